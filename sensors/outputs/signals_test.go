package outputs

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var (
	silent, _ = PatternByName("off")
	steady, _ = PatternByName("steady")
	quick, _  = PatternByName("quick")
)

func pattern(t testing.TB, name string) Pattern {
	t.Helper()
	p, ok := PatternByName(name)
	require.True(t, ok, name)
	return p
}

func TestPatterns(t *testing.T) {
	require.False(t, pattern(t, "off").Lit(0))
	require.True(t, pattern(t, "steady").Lit(time.Hour))
	require.False(t, pattern(t, "steady").Lit(-1))
	for ms, want := range map[int]bool{0: true, 249: true, 250: false, 499: false, 500: true, 10_249: true, 10_250: false} {
		require.Equal(t, want, pattern(t, "quick").Lit(time.Duration(ms)*time.Millisecond), "%d ms", ms)
	}
	for name, hz := range map[string][2]float64{"slow": {0.4, 0.8}, "quick": {1.4, 2.8}} {
		p := pattern(t, name)
		require.InDelta(t, (hz[0]+hz[1])/2, 1/(p.On+p.Off).Seconds(), (hz[1]-hz[0])/2, "%s (IEC 60073, from memory)", name)
	}
	_, ok := PatternByName("loud")
	require.False(t, ok)
}
