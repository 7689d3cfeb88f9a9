package supply_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/supply"
)

const (
	bar  = 1e5
	lmin = 1e-3 / 60
)

// usual is what good sensors of the job can be off by.
var usual = supply.Tolerance{PressureOffsetPa: 3000, PressureRepeatPa: 1500, FlowGain: 0.02, FlowRepeat: 0.005}

// test builds a supply test from bar and L/min.
func test(static float64, flowing ...[2]float64) supply.Test {
	t := supply.Test{StaticGaugePa: static * bar, Count: len(flowing), Tolerance: usual}
	for i, f := range flowing {
		t.Flowing[i] = supply.Reading{FlowM3s: f[0] * lmin, InletGaugePa: f[1] * bar}
	}
	return t
}

func TestCheckNamesWhatToRepeat(t *testing.T) {
	first, second := supply.RepeatFirst, supply.RepeatSecond
	for _, c := range []struct {
		name   string
		test   supply.Test
		want   supply.Status
		repeat supply.Repeat
		source string
	}{
		{"good, one", test(4, [2]float64{15, 3}), supply.OK, 0, "NFPA 291: residual below static"},
		{"good, two in any order", test(4, [2]float64{20, 2.4}, [2]float64{10, 3.6}), supply.OK, 0, "NFPA 291"},
		{"no flowing reading", test(4), supply.InputUnknown, supply.RepeatStatic | first, "house rule: unknown is not OK"},
		{"static missing", test(math.NaN(), [2]float64{15, 3}), supply.InputUnknown, supply.RepeatStatic, "house rule"},
		{"second missing", test(4, [2]float64{10, 3.5}, [2]float64{20, math.Inf(1)}), supply.InputUnknown, second, "house rule"},
		{"no pressure", test(0, [2]float64{15, -0.01}), supply.StaticNotPositive, supply.RepeatStatic, "hydrostatics"},
		{"negative static", test(-1, [2]float64{15, -2}), supply.StaticNotPositive, supply.RepeatStatic, "hydrostatics"},
		{"no flow", test(4, [2]float64{0, 4}), supply.FlowNotPositive, first, "a flowing reading flows"},
		{"flow backwards", test(4, [2]float64{15, 3}, [2]float64{-15, 3}), supply.FlowNotPositive, second, "a flowing reading flows"},
		{"flowing above static", test(4, [2]float64{15, 4.5}), supply.FlowingAboveStatic, supply.RepeatStatic | first, "energy balance"},
		{"sucked", test(4, [2]float64{15, -0.2}), supply.FlowingBelowZero, first | supply.LessFlow, "a soft hose collapses below 0 gauge"},
		{"drop inside tolerance", test(4, [2]float64{5, 3.99}), supply.DropUnresolved, first | supply.MoreFlow, "GUM: difference of two readings"},
		{"more flow, more pressure", test(4, [2]float64{10, 3}, [2]float64{20, 3.5}), supply.PressureRisesWithFlow, first | second, "energy balance"},
		{"one flow, two pressures", test(4, [2]float64{15, 3}, [2]float64{15, 2}), supply.ReadingsDisagree, first | second, "repeatability"},
		{"beyond any tap", test(60, [2]float64{15, 3}), supply.OutOfRange, 0, "the package's range"},
		{"beyond any hydrant", test(4, [2]float64{70000, 3}), supply.OutOfRange, first, "the package's range"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, r := c.test.Check()
			require.Equal(t, c.want, s, "%s (%s)", s, c.source)
			require.Equal(t, c.repeat, r)
			got := supply.Evaluate(c.test, bar)
			require.Equal(t, c.want, got.Status)
			if c.want != supply.OK {
				require.Equal(t, supply.Result{Status: c.want, Repeat: c.repeat}, got, "a refused test has no number")
			}
		})
	}
}

func TestFlags(t *testing.T) {
	weak := supply.Evaluate(test(4, [2]float64{8, 3.65}), bar)
	require.True(t, weak.Flags.Has(supply.WeakDrop|supply.Extrapolated), "8.75 % is below NFPA 291's 10 %")
	strong := supply.Evaluate(test(4, [2]float64{8, 3.55}), bar)
	require.False(t, strong.Flags.Has(supply.WeakDrop))
	low := supply.Evaluate(test(0.8, [2]float64{8, 0.3}), bar)
	require.True(t, low.Flags.Has(supply.StaticBelowWanted))
	require.Zero(t, low.Flow.High)
	close2 := supply.Evaluate(test(4, [2]float64{15, 3}, [2]float64{15.1, 2.99}), bar)
	require.True(t, close2.Flags.Has(supply.FlowsTooClose))
	require.False(t, close2.Exponent.Known)
	odd := supply.Evaluate(test(4, [2]float64{10, 3.6}, [2]float64{20, 1}), bar)
	require.True(t, odd.Flags.Has(supply.ExponentOdd), "drop grew 7.5 fold on twice the flow")
	bare := test(4, [2]float64{15, 3})
	bare.Tolerance = supply.Tolerance{}
	require.True(t, supply.Evaluate(bare, bar).Flags.Has(supply.ToleranceMissing))
}

func TestJudge(t *testing.T) {
	need := supply.Need{PumpM3s: 15 * lmin, InletGaugePa: bar}
	good := test(4, [2]float64{16, 2.8})
	for _, c := range []struct {
		name string
		test supply.Test
		need func(supply.Need) supply.Need
		want supply.Verdict
	}{
		{"enough", good, nil, supply.Yes},
		{"far too little", good, func(n supply.Need) supply.Need { n.PumpM3s = 60 * lmin; return n }, supply.No},
		{"inside the spread", good, func(n supply.Need) supply.Need { n.PumpM3s = 26 * lmin; return n }, supply.Marginal},
		{"allowance makes it too much", good, func(n supply.Need) supply.Need { n.BypassM3s = 40 * lmin; return n }, supply.No},
		{"weak drop, demand not tested", test(4, [2]float64{6, 3.7}), nil, supply.Marginal},
		{"weak drop, demand tested", test(4, [2]float64{16, 3.7}), nil, supply.Yes},
		{"static below wanted", test(0.8, [2]float64{8, 0.3}), nil, supply.No},
		{"no pump flow", good, func(n supply.Need) supply.Need { n.PumpM3s = 0; return n }, supply.VerdictUnknown},
		{"refused test", test(4, [2]float64{15, 4.5}), nil, supply.VerdictUnknown},
	} {
		n := need
		if c.need != nil {
			n = c.need(n)
		}
		require.Equal(t, c.want, supply.Judge(c.test, n).Verdict, c.name)
	}
}

// The numbers by hand: 4 bar static, 3 bar at 15 L/min, so at 1 bar the power
// law gives 15 x 3^0.54 = 27.148 and the square 15 sqrt(3) = 25.981 L/min; at
// 20 L/min 4 - (4/3)^(1/0.54) = 2.2963 and 4 - (4/3)^2 = 2.2222 bar.
func TestMarginsByHand(t *testing.T) {
	s := test(4, [2]float64{15, 3})
	s.Tolerance = supply.Tolerance{FlowGain: 0.01, PressureRepeatPa: 0.1} // 1 % of the flow, next to nothing else
	j := supply.Judge(s, supply.Need{PumpM3s: 18 * lmin, BypassM3s: 2 * lmin, InletGaugePa: bar})
	f := j.Result.Flow
	require.InDelta(t, 27.148, f.Power.Value/lmin, 1e-3)
	require.InDelta(t, 25.981, f.Square.Value/lmin, 1e-3)
	require.InDelta(t, 27.148-25.981, f.Spread/lmin, 1e-3)
	require.InDelta(t, 25.981*0.99, f.Low/lmin, 1e-3)
	require.InDelta(t, 27.148*1.01, f.High/lmin, 1e-3)
	d := j.Pump
	require.Equal(t, supply.Yes, d.Verdict)
	require.InDelta(t, 20, d.RequiredM3s/lmin, 1e-9)
	require.InDelta(t, 25.981*0.99-20, d.FlowMarginLowM3s/lmin, 1e-3)
	require.InDelta(t, 27.148*1.01-20, d.FlowMarginHighM3s/lmin, 1e-3)
	require.InDelta(t, 2.2963, d.Inlet.Power.Value/bar, 1e-4)
	require.InDelta(t, 2.2222, d.Inlet.Square.Value/bar, 1e-4)
	// 1 % of the flow is 2 % of the drop of 1.7778 bar, which goes with its square.
	require.InDelta(t, 2.2222-0.02*1.7778-1, d.PressureMarginLowPa/bar, 1e-3)
	require.InDelta(t, d.Inlet.High-bar, d.PressureMarginHighPa, 1e-6)
	require.True(t, d.Extrapolated)
	require.Zero(t, j.Result.MisfitPa, "two points lie on the curve")
}

// Three readings that no quadratic meets: 4 bar, 3 bar at 10 and 2 bar at 20
// L/min. With x = (q/10)^2 = 0, 1, 4 the means are x 5/3 and p 3.
func TestLeastSquaresByHand(t *testing.T) {
	s := test(4, [2]float64{10, 3}, [2]float64{20, 2})
	r := supply.Evaluate(s, bar)
	// Sxx = 25/9 + 4/9 + 49/9 = 26/3; Sxp = -5/3 - 7/3 = -4; slope -6/13 bar.
	require.InDelta(t, 6.0/13, r.Fit.K*100*lmin*lmin/bar, 1e-9)
	require.InDelta(t, 3+6.0/13*5/3, r.Fit.P0Pa/bar, 1e-9)
	// Residuals: 3/13, -4/13, 1/13 bar.
	require.InDelta(t, 4.0/13, r.MisfitPa/bar, 1e-9)
}

func TestJudgeReturn(t *testing.T) {
	n := supply.Need{PumpM3s: 60 * lmin, NozzleM3s: 12 * lmin, InletGaugePa: bar}
	good := test(4, [2]float64{16, 2.8})
	require.Equal(t, supply.No, supply.Judge(good, n).Verdict, "an unknown return is the harder case")
	require.Equal(t, supply.Yes, supply.Judge(good, n).Nozzle.Verdict)
	n.Return = supply.ReturnToInlet
	require.Equal(t, supply.Yes, supply.Judge(good, n).Verdict, "only the nozzle's water leaves")
}

func TestUnknownToleranceCapsVerdict(t *testing.T) {
	bare := test(4, [2]float64{16, 2.8})
	bare.Tolerance = supply.Tolerance{}
	require.Equal(t, supply.Marginal, supply.Judge(bare, supply.Need{PumpM3s: 15 * lmin, InletGaugePa: bar}).Verdict)
}

func drawTest(t *rapid.T) supply.Test {
	static := rapid.Float64Range(1, 10).Draw(t, "staticBar")
	drop := rapid.Float64Range(0.1, 0.95).Draw(t, "dropFraction")
	q := rapid.Float64Range(2, 80).Draw(t, "flowLmin")
	s := test(static, [2]float64{q, static * (1 - drop)})
	if rapid.Bool().Draw(t, "two") {
		share := rapid.Float64Range(0.3, 0.8).Draw(t, "share")
		n := rapid.Float64Range(1.2, 2).Draw(t, "n")
		s.Count = 2
		s.Flowing[1] = supply.Reading{FlowM3s: q * share * lmin, InletGaugePa: static * (1 - drop*math.Pow(share, n)) * bar}
	}
	return s
}

func TestFlowPressureRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawTest(t)
		wanted := rapid.Float64Range(0, 0.9).Draw(t, "wantedFraction") * s.StaticGaugePa
		for _, m := range []supply.Method{supply.PowerLaw, supply.Square} {
			q, ok := s.Flow(m, wanted)
			if !ok || q == 0 {
				continue
			}
			p, ok := s.Pressure(m, q)
			require.True(t, ok)
			require.InDelta(t, wanted, p, 1e-9*s.StaticGaugePa)
		}
	})
}

func TestMoreWantedPressureLessFlow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawTest(t)
		a := rapid.Float64Range(0, s.StaticGaugePa).Draw(t, "a")
		b := rapid.Float64Range(a, s.StaticGaugePa*1.2).Draw(t, "b")
		for _, m := range []supply.Method{supply.PowerLaw, supply.Square} {
			qa, okA := s.Flow(m, a)
			qb, okB := s.Flow(m, b)
			require.True(t, okA && okB)
			require.GreaterOrEqual(t, qa, qb)
		}
	})
}

func TestCurvesPassTheReading(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawTest(t)
		s.Count = 1
		for _, m := range []supply.Method{supply.PowerLaw, supply.Square} {
			q, ok := s.Flow(m, s.Flowing[0].InletGaugePa)
			require.True(t, ok)
			require.InEpsilon(t, s.Flowing[0].FlowM3s, q, 1e-9)
		}
	})
}

// The least-squares line leaves residuals that sum to zero and are orthogonal
// to q^2 (the normal equations), whatever the readings.
func TestLeastSquaresNormalEquations(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawTest(t)
		fit, ok := supply.FitQuadratic(s)
		require.True(t, ok)
		sum, moment := 0.0, 0.0
		add := func(q, p float64) {
			r := p - (fit.P0Pa - fit.K*q*q)
			sum += r
			moment += r * q * q
		}
		add(0, s.StaticGaugePa)
		for _, r := range s.Flowing[:s.Count] {
			add(r.FlowM3s, r.InletGaugePa)
		}
		require.InDelta(t, 0, sum, 1e-9*s.StaticGaugePa)
		require.InDelta(t, 0, moment, 1e-9*s.StaticGaugePa*s.Flowing[0].FlowM3s*s.Flowing[0].FlowM3s)
	})
}

func TestExponentRecoversThePower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Float64Range(1, 2).Draw(t, "n")
		q := rapid.Float64Range(10, 40).Draw(t, "flow")
		s := test(5, [2]float64{q, 2}, [2]float64{q / 2, 5 - 3*math.Pow(0.5, n)})
		s.Tolerance = supply.Tolerance{PressureRepeatPa: 100, FlowRepeat: 1e-3}
		e := supply.FitExponent(s)
		require.True(t, e.Known)
		require.InDelta(t, n, e.N, 1e-9)
		require.False(t, e.Odd)
	})
}

// Worse sensors can only move a verdict toward marginal.
func TestWorseSensorsWidenTheRange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawTest(t)
		s.StaticGaugePa = rapid.Float64Range(3, 8).Draw(t, "static") * bar
		s.Count = 1
		s.Flowing[0].InletGaugePa = s.StaticGaugePa * 0.6
		a := supply.Evaluate(s, bar)
		s.Tolerance.PressureRepeatPa *= 2
		s.Tolerance.FlowGain *= 2
		b := supply.Evaluate(s, bar)
		require.Equal(t, supply.OK, b.Status)
		require.LessOrEqual(t, b.Flow.Low, a.Flow.Low)
		require.GreaterOrEqual(t, b.Flow.High, a.Flow.High)
	})
}

func TestStringsAreDistinct(t *testing.T) {
	seen := map[string]bool{}
	for s := supply.InputUnknown; s <= supply.ReadingsDisagree; s++ {
		require.False(t, seen[s.String()], s.String())
		seen[s.String()] = true
	}
	require.Equal(t, "unknown", supply.Status(99).String())
	require.Equal(t, "marginal", supply.Marginal.String())
	require.Equal(t, "unknown", supply.Verdict(99).String())
}
