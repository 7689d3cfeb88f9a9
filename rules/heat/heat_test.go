package heat_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/check/checktest"
	"headroom/rules/heat"
	"headroom/rules/water"
)

func TestChecks(t *testing.T) { checktest.Run(t, heat.Checks()) }

func drawLoop(t *rapid.T) heat.Loop {
	return heat.Loop{
		PowerW:      rapid.Float64Range(0, 5e4).Draw(t, "powerW"),
		WaterKg:     rapid.Float64Range(0.5, 500).Draw(t, "waterKg"),
		HeatJKgK:    rapid.Float64Range(3500, 4300).Draw(t, "heatJKgK"),
		MetalJK:     rapid.Float64Range(0, 1e5).Draw(t, "metalJK"),
		ExchangeKgs: rapid.SampledFrom([]float64{0, 1e-12, 1e-6, 1e-3, 0.02, 0.3}).Draw(t, "exchange"),
		SupplyK:     rapid.Float64Range(274, 320).Draw(t, "supplyK"),
	}
}

// TestApproachLandsOnTheLimit runs the loop for the time told and looks where
// it is: the two closed forms are inverse to each other.
func TestApproachLandsOnTheLimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLoop(t)
		from := rapid.Float64Range(274, 340).Draw(t, "from")
		limit := rapid.Float64Range(274, 380).Draw(t, "limit")
		a := l.Approach(from, limit)
		require.Equal(t, 60*a.RateKs, a.RateKMin)
		switch a.Status {
		case heat.ApproachHeating:
			end, ok := l.TempAfterK(from, a.Seconds)
			require.True(t, ok)
			require.InDelta(t, limit, end, 1e-6)
			require.Positive(t, a.RateKs)
		case heat.ApproachReached:
			require.GreaterOrEqual(t, from, limit)
			require.Zero(t, a.Seconds)
		case heat.ApproachNever:
			end, ok := l.TempAfterK(from, heat.MaxHorizonS)
			require.True(t, ok)
			require.LessOrEqual(t, end, limit+1e-9)
		default:
			t.Fatalf("unknown status for a sound loop")
		}
	})
}

// TestEnergyBalance integrates the first law by small steps of its own (the
// classic Runge-Kutta method) and compares.
func TestEnergyBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLoop(t)
		from := rapid.Float64Range(274, 340).Draw(t, "from")
		total := rapid.Float64Range(1, 600).Draw(t, "seconds")
		c := l.WaterKg*l.HeatJKgK + l.MetalJK
		slope := func(k float64) float64 {
			return (l.PowerW - l.ExchangeKgs*l.HeatJKgK*(k-l.SupplyK)) / c
		}
		const steps = 2000
		k, h := from, total/steps
		for range steps {
			k1 := slope(k)
			k2 := slope(k + h/2*k1)
			k3 := slope(k + h/2*k2)
			k += h / 6 * (k1 + 2*k2 + 2*k3 + slope(k+h*k3))
		}
		got, ok := l.TempAfterK(from, total)
		if !ok {
			require.Greater(t, k, 499.9, "refused only beyond the range")
			return
		}
		require.InDelta(t, k, got, 1e-6)
	})
}

func TestApproachTrends(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLoop(t)
		l.PowerW += 500
		from := rapid.Float64Range(290, 310).Draw(t, "from")
		limit := from + rapid.Float64Range(1, 60).Draw(t, "gap")
		a := l.Approach(from, limit)
		if a.Status != heat.ApproachHeating {
			return
		}
		stronger := l
		stronger.PowerW *= 1.1
		require.Less(t, stronger.Approach(from, limit).Seconds, a.Seconds, "more power, sooner")
		bigger := l
		bigger.MetalJK += 1e4
		b := bigger.Approach(from, limit)
		require.True(t, b.Status == heat.ApproachNever || b.Seconds > a.Seconds, "more metal, later")
		closed := l
		closed.ExchangeKgs = 0
		if l.SupplyK < from {
			require.LessOrEqual(t, closed.Approach(from, limit).Seconds, a.Seconds*(1+1e-12), "no cold supply, sooner")
		}
	})
}

func TestApproachStatus(t *testing.T) {
	closed := heat.Loop{PowerW: 1000, WaterKg: 10, HeatJKgK: 4180}
	cooled := closed
	cooled.ExchangeKgs, cooled.SupplyK = 0.1, 288.15
	lost := cooled
	lost.SupplyK = math.NaN()
	none := closed
	none.PowerW = 0
	for _, c := range []struct {
		name        string
		l           heat.Loop
		temp, limit float64
		want        heat.ApproachStatus
		source      string
	}{
		{"closed loop", closed, 290, 333, heat.ApproachHeating, "first law"},
		{"at the limit", closed, 333, 333, heat.ApproachReached, "definition"},
		{"supply holds it 2.4 K up", cooled, 290, 333, heat.ApproachNever, "first law: 1000/(0.1*4180) K"},
		{"limit below that", cooled, 289, 290, heat.ApproachHeating, "first law"},
		{"above its equilibrium, cooling", cooled, 320, 333, heat.ApproachNever, "first law"},
		{"no power", none, 290, 333, heat.ApproachNever, "first law"},
		{"supply temperature lost", lost, 290, 333, heat.ApproachUnknown, "unknown is not fine"},
		{"no temperature", closed, math.NaN(), 333, heat.ApproachUnknown, "unknown is not fine"},
		{"no limit", closed, 290, math.NaN(), heat.ApproachUnknown, "unknown is not fine"},
		{"celsius given for kelvin", closed, 20, 60, heat.ApproachUnknown, "range"},
		{"no water", heat.Loop{PowerW: 1000, HeatJKgK: 4180}, 290, 333, heat.ApproachUnknown, "range"},
		{"nothing set", heat.Loop{}, 290, 333, heat.ApproachUnknown, "range"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := c.l.Approach(c.temp, c.limit)
			require.Equal(t, c.want, a.Status)
			require.Equal(t, c.want == heat.ApproachHeating, a.Seconds > 0)
		})
	}
	_, ok := closed.EquilibriumK()
	require.False(t, ok, "a closed loop has no equilibrium")
}

func TestPowerRefuses(t *testing.T) {
	nan := math.NaN()
	for name, call := range map[string]func() (float64, bool){
		"negative flow":        func() (float64, bool) { return heat.HydraulicPowerW(-1e-4, 1e6) },
		"no pressure":          func() (float64, bool) { return heat.HydraulicPowerW(1e-4, nan) },
		"efficiency 0":         func() (float64, bool) { return heat.ShaftPowerW(100, 0) },
		"efficiency above 1":   func() (float64, bool) { return heat.PumpRiseK(1e6, 1.1, 998, 4180) },
		"no flow":              func() (float64, bool) { return heat.PumpRiseFromPowerK(1000, 0, 4180) },
		"flow too small":       func() (float64, bool) { return heat.PumpRiseFromPowerK(1e6, 1e-5, 4180) },
		"throttle upwards":     func() (float64, bool) { return heat.ThrottleRiseK(293, 1e5, 2e5) },
		"boils behind":         func() (float64, bool) { return heat.ThrottleRiseK(372.6, 20e6, 101325) },
		"heat capacity absent": func() (float64, bool) { return heat.IncompressibleThrottleRiseK(1e6, 998, 0) },
	} {
		v, ok := call()
		require.False(t, ok, name)
		require.Zero(t, v, name)
	}
}

// TestThrottleKeepsEnthalpy: nothing but the enthalpy tells the state behind a
// throttle (source: first law for steady flow).
func TestThrottleKeepsEnthalpy(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(275, 368).Draw(t, "tempK")
		in := rapid.Float64Range(1e6, 100e6).Draw(t, "in")
		rise, ok := heat.ThrottleRiseK(k, in, 1e6)
		require.True(t, ok)
		before, ok := water.EnthalpyJKg(k, in)
		require.True(t, ok)
		behind, ok := water.EnthalpyJKg(k+rise, 1e6)
		require.True(t, ok)
		require.InDelta(t, before, behind, 1e-6)
	})
}

// TestThrottleNearIncompressible: at 4 C water doesn't expand with heat, so the
// two figures meet there (source: density maximum of water), and part above.
func TestThrottleNearIncompressible(t *testing.T) {
	real4, ok := heat.ThrottleRiseK(277.15, 2e6, 1e5)
	require.True(t, ok)
	simple4, ok := heat.IncompressibleThrottleRiseK(1.9e6, 1000.4, 4200)
	require.True(t, ok)
	require.InEpsilon(t, simple4, real4, 5e-3)
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(283, 363).Draw(t, "tempK")
		in := rapid.Float64Range(1e6, 30e6).Draw(t, "in")
		rise, ok := heat.ThrottleRiseK(k, in, 5e5)
		require.True(t, ok)
		simple, _ := heat.IncompressibleThrottleRiseK(in-5e5, 985, 4150)
		require.Positive(t, rise)
		require.Less(t, rise, simple)
	})
}
