package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
)

// Room for a start is said during a start. A jam of a running motor is told
// when it comes, and its alarm goes back after its own delay.
func TestStartIsJudgedDuringAStart(t *testing.T) {
	r := newRig(t, fixture())
	judge := func(v *engine.Verdicts) engine.Judge { return v.Rules[engine.StartJam].Judge }
	require.Equal(t, engine.NotNow, judge(r.feed(stopped(), 3*time.Second)), "it stands")
	require.Equal(t, engine.Watching, judge(r.feed(at(healthy(), 60), time.Second)), "inrush")
	require.Equal(t, engine.NotNow, judge(r.feed(healthy(), 5*time.Second)), "it runs long since")
	act := engine.ActAlarm(engine.StartJam)
	v := r.feed(at(healthy(), 60), time.Second)
	require.Equal(t, engine.Watching, judge(v), "a jam")
	require.True(t, v.Alarms[act].Active)
	v = r.feed(healthy(), time.Second)
	require.True(t, v.Alarms[act].Active, "2 s to go back")
	v = r.feed(healthy(), 2*time.Second)
	require.False(t, v.Alarms[act].Active)
	require.Equal(t, engine.NotNow, judge(v))
}
