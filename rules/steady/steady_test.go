package steady_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/gum"
	"headroom/rules/steady"
)

// ar1 is a noise of standard deviation 1 whose neighbours correlate by rho.
func ar1(rng *rand.Rand, n int, rho float64) []float64 {
	x := make([]float64, n)
	x[0] = rng.NormFloat64()
	for i := 1; i < n; i++ {
		x[i] = rho*x[i-1] + math.Sqrt(1-rho*rho)*rng.NormFloat64()
	}
	return x
}

// rate is the share of drawn series of which the test says steady.
func rate(rng *rand.Rand, n int, rho, drift, swing, tol float64) float64 {
	const draws = 1000
	steadies := 0
	for range draws {
		x := ar1(rng, n, rho)
		for i := range x {
			p := float64(i) / float64(n-1)
			x[i] += drift*p + swing*math.Sin(math.Pi*p)
		}
		v := steady.Test{Tolerance: tol}.Judge(x)
		if v.OK() {
			steadies++
		}
	}
	return float64(steadies) / draws
}

// TestRates states how often the test errs. Noise has standard deviation 1,
// windows have 300 readings: 30 s at 10 a second. Source: drawn series.
func TestRates(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for _, c := range []struct {
		name              string
		rho, drift, swing float64
		tol               float64
		lo, hi            float64
	}{
		// A series at rest must mostly pass: false alarms.
		{"at rest, white", 0, 0, 0, 1.2, 0.97, 1},
		{"at rest, rho 0.6", 0.6, 0, 0, 2.4, 0.97, 1},
		{"at rest, rho 0.9", 0.9, 0, 0, 6.5, 0.95, 1},
		// One that drifts by the tolerance must not: 0.5 % is the promise.
		{"drifts by the tolerance, white", 0, 1, 0, 1, 0, 0.01},
		{"drifts by the tolerance, rho 0.6", 0.6, 2, 0, 2, 0, 0.015},
		{"drifts by the tolerance, rho 0.9", 0.9, 4.5, 0, 4.5, 0, 0.025},
		{"drifts by half of it more", 0.6, 3, 0, 2, 0, 0.001},
		// The middle of a half sine lies 0.53 of its height above the rest.
		{"swings by the tolerance", 0.3, 0, 1.9 * 1.3, 1.3, 0, 0.01},
		// Noise doesn't pass for rest.
		{"at rest, but noise hides what matters", 0, 0, 0, 0.2, 0, 0.01},
	} {
		got := rate(rng, 300, c.rho, c.drift, c.swing, c.tol)
		t.Logf("%-40s steady in %.2f %%", c.name, 100*got)
		require.GreaterOrEqual(t, got, c.lo, c.name)
		require.LessOrEqual(t, got, c.hi, c.name)
	}
}

// TestEffectiveNumber against the exact one of first-order noise,
// n (1-rho)/(1+rho). Source: Bayley and Hammersley, 1946, for long series.
func TestEffectiveNumber(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, rho := range []float64{0, 0.3, 0.6, 0.9} {
		sum := 0.0
		for range 300 {
			n, ok := steady.Effective(ar1(rng, 600, rho))
			require.True(t, ok)
			sum += n / 300
		}
		require.InEpsilon(t, 600*(1-rho)/(1+rho), sum, 0.15, rho)
	}
}

// TestMeanIsCovered: the 95 % interval of the mean holds the truth in about
// 95 % of drawn series, whatever their correlation.
func TestMeanIsCovered(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, rho := range []float64{0, 0.5, 0.8, 0.9} {
		in := 0
		const draws = 2000
		for range draws {
			v := steady.Test{Tolerance: 1e3}.Judge(ar1(rng, 300, rho))
			p, ok := gum.ScatterOfMean(v.Spread, v.Effective)
			require.True(t, ok)
			k, ok := gum.StudentT(0.95, math.Max(p.DoF, 1))
			require.True(t, ok)
			if math.Abs(v.Mean) <= k*p.Std {
				in++
			}
		}
		t.Logf("rho %.1f: %.1f %%", rho, 100*float64(in)/draws)
		require.InDelta(t, 0.95, float64(in)/draws, 0.02, rho)
	}
}

// TestHeldReadings: a sensor slower than the frames shows each reading several
// times; the series is worth its readings and not its frames.
func TestHeldReadings(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for _, hold := range []int{2, 3, 10} {
		sum, in := 0.0, 0
		const draws = 1000
		for range draws {
			x := make([]float64, 600)
			for i := range x {
				if x[i] = rng.NormFloat64(); i%hold != 0 {
					x[i] = x[i-1]
				}
			}
			v := steady.Test{Tolerance: 1e3}.Judge(x)
			sum += v.Effective / draws
			k, _ := gum.StudentT(0.95, v.Effective-1)
			if math.Abs(v.Mean) <= k*v.Spread/math.Sqrt(v.Effective) {
				in++
			}
		}
		require.InEpsilon(t, 600/float64(hold), sum, 0.15, hold)
		require.InDelta(t, 0.95, float64(in)/draws, 0.02, hold)
	}
}

// TestTrendIsCovered: the drift of a bent and noisy series is that of its line,
// and its 95 % interval holds it in about 95 % of draws.
func TestTrendIsCovered(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	for _, rho := range []float64{0, 0.5, 0.8} {
		in := 0
		const draws = 2000
		for range draws {
			x := ar1(rng, 400, rho)
			for i := range x {
				p := float64(i) / 399
				x[i] += 5*p + 40*p*(1-p) // a parabola that is level on the whole
			}
			drift, std, dof, ok := steady.Trend(x)
			require.True(t, ok)
			k, _ := gum.StudentT(0.95, dof)
			if math.Abs(drift-5) <= k*std {
				in++
			}
		}
		t.Logf("rho %.1f: %.1f %%", rho, 100*float64(in)/draws)
		require.InDelta(t, 0.95, float64(in)/draws, 0.02, rho)
	}
	_, _, _, ok := steady.Trend(make([]float64, 3))
	require.False(t, ok)
}

func TestReasons(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	series := func(f func(i int) float64) []float64 {
		x := make([]float64, 200)
		for i := range x {
			x[i] = f(i)
		}
		return x
	}
	for _, c := range []struct {
		name string
		x    []float64
		want steady.Reason
	}{
		{"too few", make([]float64, 15), steady.TooFew},
		{"no number", series(func(i int) float64 { return math.NaN() }), steady.TooFew},
		{"constant", series(func(i int) float64 { return 3 }), steady.Steady},
		{"noise", series(func(i int) float64 { return 0.1 * rng.NormFloat64() }), steady.Steady},
		{"ramp", series(func(i int) float64 { return float64(i) + 0.1*rng.NormFloat64() }), steady.Drifting},
		{"hill", series(func(i int) float64 { return 9*math.Sin(math.Pi*float64(i)/199) + 0.1*rng.NormFloat64() }), steady.Swinging},
		{"slow swing", series(func(i int) float64 { return 3 * math.Sin(float64(i)/25) }), steady.Swinging},
		{"a slow swing within the tolerance", series(func(i int) float64 { return 0.4 * math.Sin(float64(i)/25) }), steady.Steady},
		{"loud", series(func(i int) float64 { return 30 * rng.NormFloat64() }), steady.Noisy},
		{"getting loud", series(func(i int) float64 { return (0.5 + float64(i/100)*2) * rng.NormFloat64() }), steady.Changing},
	} {
		v := steady.Test{Tolerance: 1}.Judge(c.x)
		if c.name == "getting loud" {
			v = steady.Test{Tolerance: 2.5}.Judge(c.x)
		}
		require.Equal(t, c.want.String(), v.Reason.String(), "%s: %+v", c.name, v)
	}
}

// TestUnitsDontMatter: the verdict is the same in any unit and from any zero.
func TestUnitsDontMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		x := ar1(rng, 120, rapid.Float64Range(0, 0.9).Draw(t, "rho"))
		k := rapid.Float64Range(0.01, 1000).Draw(t, "unit")
		zero := rapid.Float64Range(-100, 100).Draw(t, "zero")
		y := make([]float64, len(x))
		for i := range x {
			y[i] = k * (x[i] + zero)
		}
		a, b := steady.Test{Tolerance: 2}.Judge(x), steady.Test{Tolerance: 2 * k}.Judge(y)
		require.InEpsilon(t, a.Effective, b.Effective, 1e-6)
		require.InEpsilon(t, a.Spread*k, b.Spread, 1e-6)
	})
}

func FuzzJudge(f *testing.F) {
	f.Add(1.0, 0.5, 0.1, uint8(40))
	f.Add(math.Inf(1), math.NaN(), -1.0, uint8(200))
	f.Add(1e308, 1e308, 1e-308, uint8(17))
	f.Fuzz(func(t *testing.T, a, b, tol float64, n uint8) {
		x := make([]float64, n)
		for i := range x {
			x[i] = a + b*float64(i%7)
		}
		v := steady.Test{Tolerance: tol}.Judge(x)
		for _, y := range []float64{v.Mean, v.Spread, v.Effective, v.Drift, v.DriftBound, v.BowBound, v.Ratio} {
			if math.IsNaN(y) || math.IsInf(y, 0) {
				t.Fatalf("%v %v %v %d: %+v", a, b, tol, n, v)
			}
		}
	})
}

func BenchmarkJudge(b *testing.B) {
	x := ar1(rand.New(rand.NewPCG(1, 1)), 300, 0.5)
	b.ReportAllocs()
	for b.Loop() {
		_ = steady.Test{Tolerance: 1}.Judge(x)
	}
}
