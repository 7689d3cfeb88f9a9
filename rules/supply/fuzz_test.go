package supply_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/supply"
)

// FuzzAdvise drives the whole package over the float64 range: a verdict comes
// with finite numbers, or there is none.
func FuzzAdvise(f *testing.F) {
	f.Add(4e5, 3e-4, 3e5, 5e-4, 2e5, 2, 1500.0, 0.02, 4e-4, 1e5, 30.0, 0.019, 0.2)
	f.Add(4e5, 3e-4, 3.9999e5, 0.0, 0.0, 1, 0.0, 0.0, 1e-7, 0.0, 1e9, 1e-9, 1e3)
	f.Add(math.Inf(1), math.NaN(), -1e300, 1e300, 5e-324, 2, -1.0, 9.0, 1.0, 5e6, 1.0, 1.0, 1.0)
	f.Fuzz(func(t *testing.T, static, q1, p1, q2, p2 float64, count int, repeatPa, gain, pump, wanted, length, bore, tank float64) {
		test := supply.Test{StaticGaugePa: static, Count: count,
			Flowing:   [2]supply.Reading{{FlowM3s: q1, InletGaugePa: p1}, {FlowM3s: q2, InletGaugePa: p2}},
			Tolerance: supply.Tolerance{PressureRepeatPa: repeatPa, PressureOffsetPa: repeatPa, FlowGain: gain, FlowRepeat: gain}}
		need := supply.Need{PumpM3s: pump, NozzleM3s: q2, BypassM3s: 1e-6, InletGaugePa: wanted, Return: supply.ReturnToInlet}
		s := supply.Site{Hose: supply.Hose{LengthM: length, BoreM: bore}, TankM3: tank, TankHeadM: 1, DensityKgM3: 998,
			Duty: supply.Duty{OnS: 60, OffS: length, JobS: 600}}
		j := supply.Judge(test, need)
		a := supply.Advise(test, need, s, friction)
		if j.Result.Status != supply.OK {
			require.Equal(t, supply.VerdictUnknown, j.Verdict)
			require.Equal(t, supply.Advice{}, a)
			return
		}
		require.NotEqual(t, supply.VerdictUnknown, j.Verdict)
		r := j.Result
		for i, x := range []float64{r.Flow.Low, r.Flow.High, r.Flow.Spread, r.Flow.Power.Value, r.Flow.Square.Value,
			r.Flow.Power.Tol, r.Flow.Square.Tol, r.DropFraction, r.Exponent.N, r.Exponent.Tol, r.Fit.K, r.MisfitPa,
			j.Pump.FlowMarginLowM3s, j.Pump.FlowMarginHighM3s, j.Pump.Inlet.Low, j.Pump.Inlet.High,
			j.Pump.PressureMarginLowPa, a.Share.HosePa, a.Share.TapPa, a.Share.Fraction, a.LargerHose.LowM3s,
			a.LargerHose.HighM3s, a.LargerHose.InletLowPa, a.ShorterHose.HighM3s, a.ShorterHose.InletHighPa,
			a.SmallerNozzle.SizeFactor, a.SmallerNozzle.InletLowPa, a.Tank.LastS, a.Tank.FillM3s} {
			require.False(t, math.IsNaN(x) || math.IsInf(x, 0), "number %d is %g", i, x)
		}
		require.LessOrEqual(t, r.Flow.Low, r.Flow.High)
	})
}

func BenchmarkJudge(b *testing.B) {
	t := test(4, [2]float64{16, 2.8}, [2]float64{8, 3.6})
	n := supply.Need{PumpM3s: 15 * lmin, NozzleM3s: 12 * lmin, InletGaugePa: bar, Return: supply.ReturnToInlet}
	b.ReportAllocs()
	for b.Loop() {
		supply.Judge(t, n)
	}
}

func BenchmarkAdvise(b *testing.B) {
	t := mixed(b, 0.3)
	n := supply.Need{PumpM3s: 45 * lmin, NozzleM3s: 45 * lmin, InletGaugePa: bar, Return: supply.ReturnToInlet}
	b.ReportAllocs()
	for b.Loop() {
		supply.Advise(t, n, site(), friction)
	}
}

func TestNoAllocation(t *testing.T) {
	s := mixed(t, 0.3)
	n := supply.Need{PumpM3s: 45 * lmin, NozzleM3s: 45 * lmin, InletGaugePa: bar, Return: supply.ReturnToInlet}
	require.Zero(t, testing.AllocsPerRun(20, func() { supply.Advise(s, n, site(), friction) }))
}
