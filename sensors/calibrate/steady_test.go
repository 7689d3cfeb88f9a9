package calibrate_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/sensors/calibrate"
)

// window fills one with n readings, ten a second.
func window(n int, at func(i int) float64) (w calibrate.Window) {
	for i := range n {
		w = w.Add(time.Duration(i)*100*time.Millisecond, at(i))
	}
	return w
}

func TestSteadiness(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	noise := func(sd float64) func(int) float64 { return func(int) float64 { return 1000 + sd*rng.NormFloat64() } }
	for _, c := range []struct {
		name string
		w    calibrate.Window
		tol  float64
		why  string
	}{
		{"still", window(32, noise(0.5)), 2, ""},
		{"still, much later", window(500, noise(0.5)), 2, ""},
		{"constant", window(32, func(int) float64 { return 5 }), 1, ""},
		{"too few", window(31, noise(0.5)), 2, "waiting for more readings"},
		{"no tolerance", window(32, noise(0.5)), 0, "no tolerance given"},
		{"drift", window(32, func(i int) float64 { return float64(i) }), 2, "still drifting"},
		{"drift under noise", window(32, func(i int) float64 { return 0.2*float64(i) + noise(0.3)(i) }), 2, "still drifting"},
		{"noise hides a drift", window(32, noise(6)), 8, "too noisy to see whether it drifts"},
		{"slow swing", window(32, func(i int) float64 { return 2 * math.Sin(2*math.Pi*float64(i)/8) }), 3.5, "swinging slowly"},
		{"small swing", window(32, func(i int) float64 { return 0.4 * math.Sin(2*math.Pi*float64(i)/8) }), 1, ""},
		{"it doesn't get steady by waiting", window(5000, func(i int) float64 { return float64(i) / 10 }), 2, "still drifting"},
	} {
		s := c.w.Judge(c.tol)
		require.Equal(t, c.why, s.Why, "%s: %+v", c.name, s)
		require.Equal(t, c.why == "", s.Steady, c.name)
	}
}

// Source: least squares by definition: a pure line has its own slope and no
// spread. 31 steps of 0.1 s of a slope of 3 per second are 9.3.
func TestDriftOfALine(t *testing.T) {
	s := window(70, func(i int) float64 { return 0.3 * float64(i) }).Judge(1)
	require.InDelta(t, 9.3, s.Drift, 1e-9)
	require.InDelta(t, 0, s.Spread, 1e-6)
	require.InDelta(t, 0.3*(38+69)/2, s.Mean, 1e-9)
}

func TestOnlyNewReadingsCount(t *testing.T) {
	w := window(10, func(int) float64 { return 1 })
	require.Equal(t, w, w.Add(900*time.Millisecond, 5), "not newer")
	require.Equal(t, 0, w.Add(time.Hour, math.NaN()).Judge(1).N)
}

// The test's promise: of readings whose true drift is twice the tolerance,
// hardly any pass; source: 99 % confidence bound.
func TestADriftRarelyPasses(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	passed, still := 0, 0
	for range 2000 {
		drift := window(32, func(i int) float64 { return 2.0*float64(i)/31 + 0.5*rng.NormFloat64() })
		rest := window(32, func(int) float64 { return 0.3 * rng.NormFloat64() })
		if drift.Judge(1).Steady {
			passed++
		}
		if rest.Judge(1).Steady {
			still++
		}
	}
	require.Less(t, passed, 20, "of 2000")
	require.Greater(t, still, 1800, "of 2000: it must also be of use")
}

func TestJudgeDoesNotDependOnTheLevel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := rapid.SliceOfN(rapid.Float64Range(-1, 1), 32, 80).Draw(t, "x")
		level := rapid.Float64Range(-1e5, 1e5).Draw(t, "level")
		a := window(len(xs), func(i int) float64 { return xs[i] }).Judge(3)
		b := window(len(xs), func(i int) float64 { return xs[i] + level }).Judge(3)
		require.InDelta(t, a.Drift, b.Drift, 1e-6)
		require.InDelta(t, a.Spread, b.Spread, 1e-6)
		require.GreaterOrEqual(t, a.DriftBound, math.Abs(a.Drift))
	})
}
