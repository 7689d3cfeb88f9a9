package heat_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/heat"
)

// FuzzHeat holds over all of float64: a finite number or a refusal.
func FuzzHeat(f *testing.F) {
	f.Add(1750.0, 7.5, 4186.8, 1e3, 0.01, 288.15, 290.0, 333.15)
	f.Add(0.0, 1e-300, 1e-300, 0.0, 1e-300, 288.15, 290.0, 333.15)
	f.Add(1e6, 1e5, 1e5, 1e8, 1e3, 200.0, 200.0, 500.0)
	f.Add(math.NaN(), 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0)
	f.Add(math.Inf(1), math.Inf(-1), -1.0, 0.0, 1.0, 1.0, 1.0, 1.0)
	f.Fuzz(func(t *testing.T, a, b, c, d, e, g, h, i float64) {
		finite := func(name string, v float64, ok bool) {
			if math.IsNaN(v) || math.IsInf(v, 0) || (!ok && v != 0) {
				t.Fatalf("%s(%v %v %v %v %v %v %v %v) = %v, %v", name, a, b, c, d, e, g, h, i, v, ok)
			}
		}
		two := func(name string, fn func(a, b float64) (float64, bool)) {
			v, ok := fn(a, b)
			finite(name, v, ok)
		}
		two("hydraulic", heat.HydraulicPowerW)
		two("shaft", heat.ShaftPowerW)
		v, ok := heat.PumpRiseK(a, b, c, d)
		finite("pump rise", v, ok)
		v, ok = heat.PumpRiseFromPowerK(a, b, c)
		finite("pump loss", v, ok)
		v, ok = heat.ThrottleRiseK(h, a, b)
		finite("throttle", v, ok)
		v, ok = heat.CoolingTimeS(g, h, i, a)
		finite("cooling", v, ok)

		l := heat.Loop{PowerW: a, WaterKg: b, HeatJKgK: c, MetalJK: d, ExchangeKgs: e, SupplyK: g}
		v, ok = l.RateKs(h)
		finite("rate", v, ok)
		v, ok = l.EquilibriumK()
		finite("equilibrium", v, ok)
		v, ok = l.TempAfterK(h, i)
		finite("after", v, ok)
		ap := l.Approach(h, i)
		finite("approach", ap.Seconds, ap.Status == heat.ApproachHeating)
		finite("approach rate", ap.RateKMin, ap.Status != heat.ApproachUnknown)
		fr := heat.FrostLimits{WatchK: a, RiskK: b, RiskS: c, TauS: d}.Classify(
			heat.FrostState{WaterK: g, AmbientK: h, WaterKnown: true, AmbientKnown: true})
		finite("frost", fr.Seconds, fr.TimeKnown)
	})
}

var (
	sinkApproach heat.Approach
	sinkFrost    heat.Frost
	sinkFloat    float64
)

var benchLoop = heat.Loop{PowerW: 1750, WaterKg: 7.5, HeatJKgK: 4186, MetalJK: 2e3, ExchangeKgs: 0.001, SupplyK: 288.15}

func BenchmarkApproach(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		sinkApproach = benchLoop.Approach(295, 333.15)
	}
}

func BenchmarkFrost(b *testing.B) {
	lim := heat.DefaultFrostLimits()
	s := heat.FrostState{WaterK: 285, AmbientK: 268, WaterKnown: true, AmbientKnown: true}
	b.ReportAllocs()
	for b.Loop() {
		sinkFrost = lim.Classify(s)
	}
}

func BenchmarkThrottleRise(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		sinkFloat, _ = heat.ThrottleRiseK(293.15, 20e6, 2e5)
	}
}

// TestNoAllocation holds what the tick relies on.
func TestNoAllocation(t *testing.T) {
	lim := heat.DefaultFrostLimits()
	require.Zero(t, testing.AllocsPerRun(100, func() {
		sinkApproach = benchLoop.Approach(295, 333.15)
		sinkFrost = lim.Classify(heat.FrostState{WaterK: 285, WaterKnown: true, AmbientK: 268, AmbientKnown: true})
		sinkFloat, _ = heat.ThrottleRiseK(293.15, 20e6, 2e5)
	}))
}
