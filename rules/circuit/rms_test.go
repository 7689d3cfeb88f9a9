package circuit_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/check/checktest"
	"headroom/rules/circuit"
)

func TestChecks(t *testing.T) { checktest.Run(t, circuit.Checks()) }

// sample returns n samples of a sum of harmonics with the given peaks, the
// first being the fundamental.
func sample(n int, rateHz, mainsHz, phase float64, peaks ...float64) []float64 {
	x := make([]float64, n)
	for k := range x {
		for h, p := range peaks {
			x[k] += p * math.Sin(float64(h+1)*(2*math.Pi*mainsHz*float64(k)/rateHz+phase))
		}
	}
	return x
}

// Source: RMS of a sine is its peak by the square root of 2; the tolerance is
// the bound of the trapezoid's last interval that RMS documents.
func TestSineWithinTheStatedBound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mainsHz := rapid.Float64Range(circuit.MinMainsHz, circuit.MaxMainsHz).Draw(t, "mainsHz")
		rateHz := mainsHz * rapid.Float64Range(circuit.MinPerCycle*1.0001, 200).Draw(t, "perCycle")
		n := int(rateHz/mainsHz*rapid.Float64Range(1.1, 20).Draw(t, "cycles")) + 2
		peak := rapid.Float64Range(0.1, 200).Draw(t, "peak")
		w := circuit.RMS(sample(n, rateHz, mainsHz, rapid.Float64Range(0, 7).Draw(t, "phase"), peak), rateHz, mainsHz)
		require.Equal(t, circuit.WaveOK, w.Status)
		require.InEpsilon(t, peak/math.Sqrt2, w.ACRMSA, 0.0015/float64(w.Cycles))
	})
}

// Source: Parseval: the squares of the harmonics' RMS values add up, exactly so
// for every harmonic below half of a rate that is a whole multiple.
func TestHarmonicsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(12, 64).Draw(t, "perCycle")
		peaks := []float64{20, 3, 6, 1, rapid.Float64Range(0, 5).Draw(t, "fifth")}
		w := circuit.RMS(sample(3*n, float64(60*n), 60, 0.4, peaks...), float64(60*n), 60)
		sum := 0.0
		for _, p := range peaks {
			sum += p * p / 2
		}
		require.GreaterOrEqual(t, w.MaxHarmonic, len(peaks))
		require.InEpsilon(t, math.Sqrt(sum), w.RMSA, 1e-12)
		require.GreaterOrEqual(t, w.Crest, 1.0)
	})
}

func TestRMSScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-100, 100), 40, 80).Draw(t, "x")
		k := rapid.Float64Range(0.01, 100).Draw(t, "k")
		y := make([]float64, len(x))
		for i := range x {
			y[i] = k * x[i]
		}
		a, b := circuit.RMS(x, 860, 60), circuit.RMS(y, 860, 60)
		require.InDelta(t, k*a.RMSA, b.RMSA, 1e-9*math.Max(1, b.RMSA))
		require.LessOrEqual(t, a.RMSA, a.PeakA*(1+1e-12))
		require.GreaterOrEqual(t, a.RMSA, a.ACRMSA)
	})
}

func TestOnlyWholeCyclesCount(t *testing.T) {
	x := sample(100, 1200, 60, 0, 10) // 20 samples a cycle
	x[99] = 900                       // within the sixth cycle, which isn't whole
	for _, c := range []struct {
		n, cycles int
		status    circuit.WaveStatus
	}{{19, 0, circuit.WaveTooShort}, {20, 1, circuit.WaveOK}, {39, 1, circuit.WaveOK}, {99, 4, circuit.WaveOK}} {
		w := circuit.RMS(x[:c.n], 1200, 60)
		require.Equal(t, c.status, w.Status)
		require.Equal(t, c.cycles, w.Cycles)
	}
	require.Equal(t, circuit.WaveBadRate, circuit.RMS(x, 600, 60).Status)
	require.Equal(t, circuit.WaveBadRate, circuit.RMS(x, 1200, 40).Status)
	require.Equal(t, circuit.WaveBadRate, circuit.RMS(x, math.NaN(), 60).Status)
	x[3] = math.NaN()
	require.Equal(t, circuit.WaveBadSample, circuit.RMS(x, 1200, 60).Status)
}

func TestNoCurrentHasNoCrest(t *testing.T) {
	w := circuit.RMS(make([]float64, 40), 1200, 60)
	require.Equal(t, circuit.WaveOK, w.Status)
	require.Zero(t, w.Crest)
	require.Zero(t, w.RMSA)
}

func FuzzRMS(f *testing.F) {
	f.Add(1.0, -2.0, 3.0, uint8(40), 1200.0, 60.0)
	f.Add(math.NaN(), math.Inf(1), 1e308, uint8(255), 5e-324, 50.0)
	f.Add(1e6, -1e6, 5e-324, uint8(30), 860.0, 60.0)
	f.Fuzz(func(t *testing.T, a, b, c float64, n uint8, rateHz, mainsHz float64) {
		x := make([]float64, n)
		for i := range x {
			x[i] = [3]float64{a, b, c}[i%3]
		}
		w := circuit.RMS(x, rateHz, mainsHz)
		for _, v := range []float64{w.RMSA, w.ACRMSA, w.MeanA, w.PeakA, w.Crest} {
			if math.IsNaN(v) || math.IsInf(v, 0) || (w.Status != circuit.WaveOK && v != 0) {
				t.Fatalf("%+v", w)
			}
		}
	})
}

func BenchmarkRMS(b *testing.B) {
	b.ReportAllocs()
	x := sample(172, 860, 60, 0, 20, 0, 3)
	for b.Loop() {
		_ = circuit.RMS(x, 860, 60)
	}
}
