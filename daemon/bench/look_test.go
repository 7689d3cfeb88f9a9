package bench_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/bench"
	"headroom/rules/frame"
)

// TestUncertain: a reading without scatter carries its instrument's limits
// alone. Two equal uniform errors of half-width a have together a triangular
// distribution of half-width 2a, JCGM 100:2008, 4.3.9, with the standard
// uncertainty a*sqrt(2/3); 95 % of a triangle lies within 2a*(1-sqrt(0.05)),
// by its area.
func TestUncertain(t *testing.T) {
	p := bench.Point{Step: "x", Kind: bench.Load, To: time.Second, Readings: []bench.Reading{{Channel: "outlet_pressure", Mean: 1e6, Effective: 100, N: 100}}}
	r := &bench.Record{Instruments: []bench.Instrument{{Channel: "outlet_pressure", Name: "i", Zero: 1e3, Gain: 1e-3}}, Points: []bench.Point{p}}
	v, u, k, ok := r.Uncertain(&r.Points[0], frame.OutletPressure)
	require.True(t, ok)
	require.InDelta(t, 1e6, v, 1)
	require.InDelta(t, 2*1e3*(1-math.Sqrt(0.05)), u, 1)
	require.InDelta(t, 1552.8/816.5, k, 0.002)
	_, _, _, ok = r.Uncertain(&r.Points[0], frame.Flow)
	require.False(t, ok, "no reading of it")
}
