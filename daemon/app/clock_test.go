package app_test

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store"
)

// A clock that starts in 1970, is set forward by the net, then back by hours
// and is trusted at last, tears and reorders nothing.
func TestJumpsOfTheClockTearNoRun(t *testing.T) {
	folder := t.TempDir()
	var ticks uint64
	var trueStart time.Time
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		trueStart = start
		opt := options(t, hot{290})
		opt.Folder = folder
		opt.Wall = func() time.Time {
			switch at := time.Since(start); {
			case at < time.Minute:
				return time.Unix(0, 0).Add(at)
			case at < 2*time.Minute:
				return time.Now().Add(5 * time.Hour)
			}
			return time.Now()
		}
		opt.WallSynced = func() bool { return time.Since(start) > 150*time.Second }
		a, end := running(t, opt, nil)
		time.Sleep(4 * time.Minute)
		end()
		ticks = a.Store().Latest().Seq
	})
	r := reader(t, folder)
	runs, err := r.ListRuns(t.Context(), 0)
	require.NoError(t, err)
	require.Len(t, runs, 1, "no jump tears a run")
	require.InDelta(t, (4 * time.Minute).Seconds(), (runs[0].End - runs[0].Start).Seconds(), 1)
	require.WithinDuration(t, trueStart, runs[0].StartWall, time.Second, "the time of the start is corrected later")
	last, n := time.Duration(0), uint64(0)
	for tick, err := range r.Frames(t.Context(), store.RunID{Boot: 1}, 0, 0) {
		require.NoError(t, err)
		require.Greater(t, tick.T, last)
		require.Zero(t, tick.T%time.Millisecond)
		last = tick.T
		n++
	}
	require.Equal(t, ticks, n)
	obs, err := r.Observations(t.Context(), 1)
	require.NoError(t, err)
	trusted := 0
	for _, o := range obs {
		if o.Trust == store.Synced {
			trusted++
			require.GreaterOrEqual(t, o.T, 150*time.Second)
		}
	}
	require.Equal(t, 1, trusted)
	require.GreaterOrEqual(t, len(obs), 4, "the start, two jumps and the trust")
}

// At another speed than life's the record holds the program's own time: no
// jump, and an hour is an hour.
func TestFasterThanLifeHasItsOwnTime(t *testing.T) {
	folder := t.TempDir()
	var start time.Time
	synctest.Test(t, func(t *testing.T) {
		start = time.Now()
		opt := options(t, hot{290})
		opt.Folder, opt.Speed = folder, 20
		_, end := running(t, opt, nil)
		time.Sleep(6 * time.Second)
		end()
	})
	r := reader(t, folder)
	obs, err := r.Observations(t.Context(), 1)
	require.NoError(t, err)
	require.Len(t, obs, 1)
	last := time.Duration(0)
	for tick, err := range r.Frames(t.Context(), store.RunID{Boot: 1}, 0, 0) {
		require.NoError(t, err)
		require.WithinDuration(t, start.Add(tick.T), tick.Wall, 2*time.Millisecond)
		last = tick.T
	}
	require.InDelta(t, 120, last.Seconds(), 1)
}
