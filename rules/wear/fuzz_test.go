package wear_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/wear"
)

// FuzzWear holds over all of float64: a finite number or a refusal.
func FuzzWear(f *testing.F) {
	f.Add(2.85e-4, 2e-5, 15.0, 1e7, 290.0, 0.95, uint8(6))
	f.Add(1e-300, 1e-9, 0.1, 5e8, 263.15, 1.1, uint8(16))
	f.Add(math.NaN(), math.Inf(1), -1.0, 0.0, 0.0, 0.0, uint8(255))
	f.Add(0.0, 0.0, 1e300, 1e-300, 423.15, 5e-324, uint8(3))
	f.Fuzz(func(t *testing.T, a, b, c, d, e, g float64, n uint8) {
		finite := func(name string, v float64, ok bool) {
			if math.IsNaN(v) || math.IsInf(v, 0) || (!ok && v != 0) {
				t.Fatalf("%s(%v %v %v %v %v %v %d) = %v, %v", name, a, b, c, d, e, g, n, v, ok)
			}
		}
		v, ok := wear.DisplacementM3(a, b, int(n))
		finite("displacement", v, ok)
		v, ok = wear.VolumetricEfficiency(a, b, c)
		finite("efficiency", v, ok)
		v, ok = wear.SlipM3s(a, b, c)
		finite("slip", v, ok)

		base := wear.Baseline{N: int(n), Tol: wear.Tolerance{SpeedFrac: a, TempK: b, DropPa: d, GapPa: d}}
		for i := range base.Points {
			// Written past Add on purpose: a file may hold anything.
			base.Points[i] = wear.Point{SpeedHz: c, DropPa: d * float64(i), TempK: e, Efficiency: g}
		}
		cmp := base.Compare(wear.Point{SpeedHz: c, DropPa: d * 2.5, TempK: e, Efficiency: g})
		finite("expected", cmp.Expected, cmp.Status == wear.Compared)
		finite("loss", cmp.Loss, cmp.Status == wear.Compared)

		ev := wear.Evidence{N: int(n), SigmaM3s: a, PackingSeen: true}
		for i := range ev.Points {
			ev.Points[i] = wear.Slip{DropPa: d / float64(i+1), ViscosityPaS: b, SlipM3s: g * float64(i%3)}
		}
		l := ev.Judge()
		known := l.Cause != wear.CauseUnknown
		finite("valves", l.ValveM3s, known)
		finite("packing", l.PackingM3s, known)
		finite("sigmas", l.Sigmas, known)

		cnt := wear.Counters{RunS: a, Starts: uint32(n)}
		next, ok := cnt.Advance(false, true, b)
		if ok {
			finite("run", next.RunS, true)
		}
		due := wear.Interval{FirstS: b, EveryS: c}.Assess(wear.Service{Done: n&1 == 1, At: wear.Counters{RunS: d}}, cnt, e)
		finite("left", due.LeftS, due.ByTime)
	})
}

var (
	sinkComparison wear.Comparison
	sinkLeak       wear.Leak
	sinkDue        [wear.NumTasks]wear.Due
)

func BenchmarkCompareFullBaseline(b *testing.B) {
	base := wear.Baseline{Tol: wear.DefaultTolerance()}
	for i := range wear.MaxBaseline {
		base.Add(wear.Point{SpeedHz: 15, DropPa: float64(i) * 1e6, TempK: 290, Efficiency: 0.95})
	}
	b.ReportAllocs()
	for b.Loop() {
		sinkComparison = base.Compare(wear.Point{SpeedHz: 15, DropPa: 12.3e6, TempK: 291, Efficiency: 0.9})
	}
}

func BenchmarkJudge(b *testing.B) {
	e := leaky(1e-5, 2e-6, 1e-7, wear.MaxSlips, 2e6, nil)
	b.ReportAllocs()
	for b.Loop() {
		sinkLeak = e.Judge()
	}
}

func BenchmarkAssessAll(b *testing.B) {
	table, services := wear.DefaultIntervals(), [wear.NumTasks]wear.Service{}
	b.ReportAllocs()
	for b.Loop() {
		sinkDue = wear.AssessAll(&table, &services, wear.Counters{RunS: 1e5, Starts: 50, Uses: 9}, 0.1)
	}
}

// TestNoAllocation holds what the tick relies on.
func TestNoAllocation(t *testing.T) {
	base, e := baseline(t), leaky(1e-5, 2e-6, 1e-7, 8, 2e6, nil)
	table, services := wear.DefaultIntervals(), [wear.NumTasks]wear.Service{}
	require.Zero(t, testing.AllocsPerRun(100, func() {
		sinkComparison = base.Compare(wear.Point{SpeedHz: 15, DropPa: 7e6, TempK: 291, Efficiency: 0.9})
		sinkLeak = e.Judge()
		sinkDue = wear.AssessAll(&table, &services, wear.Counters{RunS: 1e5}, 0.1)
	}))
}
