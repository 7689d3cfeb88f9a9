package unloader_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/check/checktest"
	"headroom/rules/circuit/unloader"
)

func TestChecks(t *testing.T) { checktest.Run(t, unloader.Checks()) }

// base is an invented 2 hp jetter on 120 V.
func base(m unloader.Method) unloader.Input {
	return unloader.Input{
		Method: m, NowA: 18, NoLoadA: 9, LimitA: 16,
		PumpPa: 10e6, NozzlePa: 9e6, NozzleM3s: 1.2e-4,
		HydraulicW: 1200, Efficiency: 0.6, SupplyV: 120,
	}
}

func drawInput(t *rapid.T) unloader.Input {
	in := base(rapid.SampledFrom([]unloader.Method{unloader.ByLine, unloader.ByEfficiency}).Draw(t, "method"))
	in.NowA = rapid.Float64Range(5, 40).Draw(t, "nowA")
	in.NoLoadA = rapid.Float64Range(0, 20).Draw(t, "noLoadA")
	in.LimitA = rapid.Float64Range(5, 40).Draw(t, "limitA")
	in.HydraulicW = rapid.Float64Range(100, 4000).Draw(t, "hydraulicW")
	in.Efficiency = rapid.Float64Range(0.2, 0.9).Draw(t, "efficiency")
	in.SlopeAPerPa = rapid.SampledFrom([]float64{0, 5e-7, 2e-6}).Draw(t, "slope")
	return in
}

func TestPredictedCurrentKeepsToTheLimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawInput(t)
		a, why, ok := unloader.Advise(in)
		require.Equal(t, why == unloader.ReasonOK || why == unloader.ReasonNotNeeded, ok)
		if !ok {
			require.Equal(t, unloader.Advice{}, a)
			return
		}
		require.LessOrEqual(t, a.PredictedA, in.LimitA)
		require.LessOrEqual(t, a.PumpPa, in.PumpPa)
		require.GreaterOrEqual(t, a.CutPa, 0.0)
		require.InEpsilon(t, in.PumpPa, a.PumpPa+a.CutPa, 1e-12)
		require.InEpsilon(t, a.NozzlePa*a.NozzleM3s, a.NozzleW, 1e-12)
		require.LessOrEqual(t, a.NozzleW, a.NowW)
	})
}

// The advice uses the limit: the current there is the limit and not far below,
// unless a rule of the package cut it short.
func TestAdviceWastesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawInput(t)
		a, why, _ := unloader.Advise(in)
		if why != unloader.ReasonOK || a.PressureShare == 1 {
			return
		}
		require.InEpsilon(t, in.LimitA, a.PredictedA, 1e-9)
	})
}

func TestLowerLimitCutsMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawInput(t)
		a, _, okA := unloader.Advise(in)
		in.LimitA *= rapid.Float64Range(0.5, 1).Draw(t, "less")
		b, _, okB := unloader.Advise(in)
		if okA && okB {
			require.LessOrEqual(t, b.PumpPa, a.PumpPa)
		}
		require.False(t, okB && !okA, "a lower limit can't be easier to keep")
	})
}

// Source: the chord of a convex curve lies above it, see current.go; so the
// line asks for at least the cut that the better known split asks for. It holds
// where the no-load current is not below the reactive part.
func TestLineIsOnTheSafeSide(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawInput(t)
		in.SlopeAPerPa = 0
		active := in.HydraulicW / in.Efficiency / in.SupplyV
		if active > in.NowA || in.NoLoadA*in.NoLoadA < in.NowA*in.NowA-active*active {
			return
		}
		in.Method = unloader.ByLine
		line, _, okLine := unloader.Advise(in)
		in.Method = unloader.ByEfficiency
		split, _, okSplit := unloader.Advise(in)
		if okLine && okSplit {
			require.LessOrEqual(t, line.PumpPa, split.PumpPa*(1+1e-9))
		}
	})
}

func TestReasons(t *testing.T) {
	for _, c := range []struct {
		name   string
		spoil  func(*unloader.Input)
		method unloader.Method
		want   unloader.Reason
	}{
		{"turn down", func(*unloader.Input) {}, unloader.ByLine, unloader.ReasonOK},
		{"turn down", func(*unloader.Input) {}, unloader.ByEfficiency, unloader.ReasonOK},
		{"at the limit already", func(in *unloader.Input) { in.LimitA = 18 }, unloader.ByLine, unloader.ReasonNotNeeded},
		{"limit at the no-load current", func(in *unloader.Input) { in.LimitA = 9 }, unloader.ByLine, unloader.ReasonBelowNoLoad},
		{"limit below the no-load current", func(in *unloader.Input) { in.LimitA = 8 }, unloader.ByEfficiency, unloader.ReasonBelowNoLoad},
		{"limit a hair above the no-load current", func(in *unloader.Input) { in.LimitA = 9.1 }, unloader.ByLine, unloader.ReasonTooLow},
		{"no-load current above the present one", func(in *unloader.Input) { in.NoLoadA = 19 }, unloader.ByLine, unloader.ReasonInconsistent},
		{"more active current than current", func(in *unloader.Input) { in.Efficiency = 0.3 }, unloader.ByEfficiency, unloader.ReasonInconsistent},
		{"no method", func(*unloader.Input) {}, unloader.MethodUnknown, unloader.ReasonInput},
		{"no pressure", func(in *unloader.Input) { in.PumpPa = 0 }, unloader.ByLine, unloader.ReasonInput},
		{"no number", func(in *unloader.Input) { in.NowA = math.NaN() }, unloader.ByLine, unloader.ReasonInput},
	} {
		in := base(c.method)
		c.spoil(&in)
		_, why, ok := unloader.Advise(in)
		require.Equal(t, c.want.String(), why.String(), "%s, %v", c.name, c.method)
		require.Equal(t, why == unloader.ReasonOK || why == unloader.ReasonNotNeeded, ok)
	}
}

func TestNames(t *testing.T) {
	seen := map[string]bool{}
	for r := unloader.ReasonInput; r <= unloader.ReasonInconsistent; r++ {
		seen["reason "+r.String()] = true
	}
	for m := unloader.MethodUnknown; m <= unloader.ByEfficiency; m++ {
		seen["method "+m.String()] = true
	}
	require.Len(t, seen, 6+3, "every value has a name of its own")
}

func FuzzAdvise(f *testing.F) {
	f.Add(uint8(1), 18.0, 16.0, 9.0, 10e6, 9e6, 1.2e-4, 0.0, 1200.0, 0.6, 120.0)
	f.Add(uint8(2), 20.0, 15.0, 13.0, 11e6, 10e6, 1.6e-4, 0.0, 1600.0, 0.8, 125.0)
	f.Add(uint8(2), math.NaN(), math.Inf(1), -1.0, 5e-324, 1e308, 0.0, 1e308, 1e-300, 0.01, 50.0)
	f.Fuzz(func(t *testing.T, m uint8, now, limit, noLoad, pump, nozzle, flow, slope, w, eff, v float64) {
		in := unloader.Input{
			Method: unloader.Method(m), NowA: now, LimitA: limit, NoLoadA: noLoad, PumpPa: pump, NozzlePa: nozzle,
			NozzleM3s: flow, SlopeAPerPa: slope, HydraulicW: w, Efficiency: eff, SupplyV: v,
		}
		a, _, ok := unloader.Advise(in)
		if !ok && a != (unloader.Advice{}) {
			t.Fatalf("values without ok: %+v", a)
		}
		for _, x := range []float64{a.PumpPa, a.CutPa, a.PredictedA, a.PressureShare, a.FlowShare, a.PowerShare, a.NozzlePa, a.NozzleM3s, a.NozzleW, a.NowW} {
			if !(x >= 0) || math.IsInf(x, 0) {
				t.Fatalf("value %v of %+v", x, a)
			}
		}
		if ok && a.PredictedA > limit {
			t.Fatalf("predicts %v above %v", a.PredictedA, limit)
		}
	})
}

func BenchmarkAdvise(b *testing.B) {
	b.ReportAllocs()
	in := base(unloader.ByEfficiency)
	for b.Loop() {
		_, _, _ = unloader.Advise(in)
	}
}
