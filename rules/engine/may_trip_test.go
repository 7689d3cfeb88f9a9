package engine_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
)

// UL 489: holds its rating, must trip at 135 % within the hour; between the two
// the standard says nothing. Where some may trip and others hold for ever there
// is no time, least of all an hour of room.
func TestMayTripIsNoRoom(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	b := func(a float64, d time.Duration) *engine.Verdict {
		return &r.feed(at(healthy(), a), d).Rules[engine.BreakerTime]
	}
	v := b(19, time.Second)
	require.Equal(t, engine.Watching, v.Judge, "below the rating it holds")

	seen := map[engine.Judge]bool{}
	for range 300 {
		v = b(26, time.Second)
		require.NotEqual(t, engine.Watching, v.Judge, "130 %%")
		require.Zero(t, v.Value)
		require.Zero(t, v.Headroom)
		require.Zero(t, v.Sure)
		require.False(t, v.Judge.Blind())
		require.True(t, v.Judge.Answers())
		require.Contains(t, v.Judge.Words(), "may trip")
		require.False(t, strings.HasPrefix(v.Judge.Words(), "cannot judge"))
		seen[v.Judge] = true
	}
	require.True(t, seen[engine.MayTripNow], "after five minutes the quickest is due")
}

// An alarm of the breaker goes when the load falls to where it may hold.
func TestBreakerAlarmClearsIntoMayTrip(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	v := r.feed(at(healthy(), 40), 4*time.Second)
	require.True(t, v.Alarms[engine.ActAlarm(engine.BreakerTime)].Active)
	v = r.feed(at(healthy(), 21), 5*time.Second)
	require.False(t, v.Alarms[engine.ActAlarm(engine.BreakerTime)].Active)
	require.True(t, v.Rules[engine.BreakerTime].Judge.Answers())
}
