package app

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// At another speed than life's there is one clock: what pages and record are
// dated by goes as fast as what the engine counts.
func TestOneClockAtAnySpeed(t *testing.T) {
	start := time.Now().Add(-time.Second)
	a := &App{opt: Options{Speed: 50}, start: start}
	before := a.clock()
	wall := a.wall().Sub(start.Round(0))
	after := a.clock()
	require.GreaterOrEqual(t, wall, before)
	require.LessOrEqual(t, wall, after)
	require.Greater(t, wall, 49*time.Second)

	noon := time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)
	a.opt.Speed, a.opt.Wall = 1, func() time.Time { return noon }
	require.Equal(t, noon, a.wall())
}
