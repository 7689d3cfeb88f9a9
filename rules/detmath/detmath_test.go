package detmath_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/detmath"
)

// The check is the standard library, an independent implementation
// (source: Go's math package, from the FreeBSD msun functions).
func TestAgreesWithStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-700, 700).Draw(t, "x")
		require.InEpsilon(t, math.Exp(x), detmath.Exp(x), 1e-14)
		v := rapid.Float64Range(1e-300, 1e300).Draw(t, "v")
		require.InDelta(t, math.Log(v), detmath.Log(v), 1e-15*math.Max(1, math.Abs(math.Log(v)))*2)
		b := rapid.Float64Range(1e-6, 1e6).Draw(t, "b")
		y := rapid.Float64Range(-20, 20).Draw(t, "y")
		require.InEpsilon(t, math.Pow(b, y), detmath.Pow(b, y), 1e-12)
	})
}

func TestEdges(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"exp overflow", detmath.Exp(710), math.Inf(1)},
		{"exp underflow", detmath.Exp(-746), 0},
		{"exp 0", detmath.Exp(0), 1},
		{"log 0", detmath.Log(0), math.Inf(-1)},
		{"log 1", detmath.Log(1), 0},
		{"log inf", detmath.Log(math.Inf(1)), math.Inf(1)},
		{"pow 0 0", detmath.Pow(0, 0), 1},
		{"pow 0 2", detmath.Pow(0, 2), 0},
		{"pow 0 -2", detmath.Pow(0, -2), math.Inf(1)},
	} {
		require.Equal(t, c.want, c.got, c.name)
	}
	require.True(t, math.IsNaN(detmath.Log(-1)))
	require.True(t, math.IsNaN(detmath.Exp(math.NaN())))
	require.True(t, math.IsNaN(detmath.Pow(-1, 2)))
}
