package heat

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestSeriesMeetsClosedForm walks across the seam between series and closed
// form (source: Go's math.Log1p and Expm1, from the FreeBSD msun functions).
// Below the seam the series leaves x^3/4 <= 2.5e-13; above it the logarithm of
// 1 + x loses 1e-16/x <= 1e-12.
func TestSeriesMeetsClosedForm(t *testing.T) {
	for x := 1e-12; x < 1e12; x *= 1.7 {
		require.InEpsilon(t, math.Log1p(x)/x, logRatio(x), 3e-12, x)
		require.InEpsilon(t, -math.Expm1(-x)/x, decay(x), 3e-12, x)
	}
	for _, x := range []float64{9.999e-5, 1.001e-4} {
		require.InEpsilon(t, math.Log1p(x)/x, logRatio(x), 3e-12, x)
		require.InEpsilon(t, -math.Expm1(-x)/x, decay(x), 3e-12, x)
	}
	require.Equal(t, 1.0, logRatio(0))
	require.Equal(t, 1.0, decay(0))
}
