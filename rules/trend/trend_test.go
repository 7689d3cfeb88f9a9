package trend_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/trend"
)

func feed(l *trend.Line, n int, dtS, tauS float64, y func(tS float64) float64) {
	fade := trend.Fade(dtS, tauS)
	for i := range n {
		l.Add(dtS, fade, y(float64(i)*dtS))
	}
}

// A straight line is found exactly, whatever the weights: least squares has no
// residual on it (any text on statistics).
func TestFindsALineExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Float64Range(-5, 5).Draw(t, "a"), rapid.Float64Range(-2, 2).Draw(t, "b")
		dt, tau := rapid.Float64Range(0.02, 2).Draw(t, "dt"), rapid.Float64Range(1, 50).Draw(t, "tau")
		var l trend.Line
		feed(&l, 200, dt, tau, func(x float64) float64 { return a + b*x })
		if slope, _, ok := l.Slope(); ok {
			require.InDelta(t, b, slope, 1e-6*math.Max(1, math.Abs(a)+math.Abs(b)*400))
		}
	})
}

func TestTimeToLimit(t *testing.T) {
	var l trend.Line
	feed(&l, 100, 0.1, 2, func(x float64) float64 { return 1 - 0.05*x })
	s, lo, hi, sure := l.TimeTo(0.505, 2)
	require.InDelta(t, 0.505/0.05, s, 1e-3)
	require.LessOrEqual(t, lo, s)
	require.GreaterOrEqual(t, hi, s)
	require.Equal(t, trend.High, sure)
}

func TestGivesNoTimeWhereThereIsNone(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name string
		y    func(float64) float64
		n    int
		dist float64
	}{
		{"rising", func(x float64) float64 { return x }, 100, 1},
		{"level", func(float64) float64 { return 1 }, 100, 1},
		{"too young", func(x float64) float64 { return 1 - 0.1*x }, 15, 1},
		{"beyond the limit already", func(x float64) float64 { return 1 - 0.1*x }, 100, -0.1},
		{"farther than an hour", func(x float64) float64 { return 1 - 1e-5*x }, 100, 1},
		{"only noise", func(float64) float64 { return 1 + 0.1*r.NormFloat64() }, 100, 1},
	} {
		var l trend.Line
		feed(&l, c.n, 0.1, 2, c.y)
		_, _, _, sure := l.TimeTo(c.dist, 2)
		require.Equal(t, trend.None, sure, c.name)
	}
}

// Pure noise must hardly ever predict: a time that comes and goes is worse
// than none. Four standard errors leave about 1 in 15,000 for independent
// noise with known spread; with an estimated one of about 20 samples' memory
// less than 1 in 1,000 is asked here.
func TestNoiseRarelyPredicts(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var l trend.Line
	fade := trend.Fade(0.1, 2)
	hits, n := 0, 200_000
	for range n {
		l.Add(0.1, fade, 1+0.05*r.NormFloat64())
		if _, _, _, sure := l.TimeTo(1, 2); sure != trend.None {
			hits++
		}
	}
	require.Less(t, hits, n/1000)
}

func TestSumsStayBoundedForYears(t *testing.T) {
	var l trend.Line
	fade := trend.Fade(0.1, 2)
	for i := range 2_000_000 {
		l.Add(0.1, fade, 0.5+0.1*math.Sin(float64(i)/7))
	}
	b, se, ok := l.Slope()
	require.True(t, ok)
	require.Less(t, math.Abs(b), 1.0)
	require.False(t, math.IsNaN(se))
}
