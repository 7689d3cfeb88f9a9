package machine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/machine"
)

var cfg = machine.Config{StartTime: 2 * time.Second, StopTime: 3 * time.Second, BypassAfter: time.Second}

const (
	y, n, u = machine.Yes, machine.No, machine.CannotTell
)

// A day's work in steps: each row holds its inputs for a while and says what
// the machine must be at the end.
func TestADaysWork(t *testing.T) {
	var m machine.Memory
	now := time.Duration(0)
	for i, c := range []struct {
		turning, flowing, fed, trigger machine.Tri
		hold                           time.Duration
		want                           machine.State
		why                            string
	}{
		{u, u, u, u, time.Second, machine.Unknown, "nothing can tell"},
		{n, n, y, n, time.Second, machine.Stopped, "at rest, tap on"},
		{n, y, y, y, 5 * time.Second, machine.WaterOn, "purging the air"},
		{y, y, y, y, 1900 * time.Millisecond, machine.Starting, "inrush and filling"},
		{y, y, y, y, 300 * time.Millisecond, machine.Running, "the start time is over"},
		{y, n, y, y, 900 * time.Millisecond, machine.Running, "a stutter of the flow meter is no bypass"},
		{y, y, y, y, time.Second, machine.Running, "flow again"},
		{y, n, y, n, 1200 * time.Millisecond, machine.Bypassing, "trigger released"},
		{y, y, y, y, 100 * time.Millisecond, machine.Running, "trigger open: at work at once"},
		{y, n, n, u, 10 * time.Second, machine.Running, "no flow and no pressure is a closed supply, not a closed outlet"},
		{y, n, u, u, 10 * time.Second, machine.Running, "cannot tell which: the side that alarms"},
		{y, n, u, n, 2 * time.Second, machine.Bypassing, "the trigger alone tells"},
		{n, y, y, n, 2 * time.Second, machine.Stopping, "running down"},
		{n, n, y, n, 2 * time.Second, machine.Stopped, "at rest"},
		{y, y, y, y, time.Second, machine.Starting, "again"},
		{u, y, y, y, time.Second, machine.Unknown, "the current sensor died"},
		{y, y, y, y, 100 * time.Millisecond, machine.Running, "it was turning when we could see again"},
	} {
		var got machine.State
		for end := now + c.hold; now < end; {
			now += 100 * time.Millisecond
			got = machine.Step(&m, &cfg, machine.Inputs{Turning: c.turning, Flowing: c.flowing, InletFed: c.fed, TriggerOpen: c.trigger}, now)
		}
		require.Equal(t, c.want, got, "row %d: %s", i, c.why)
	}
}

// An open trigger is no closed outlet. Facts of the trade: common practice, no
// source.
func TestWhatClosesAnOutlet(t *testing.T) {
	for _, c := range []struct {
		name               string
		fed, trigger, held machine.Tri
		want               machine.State
	}{
		{"trigger shut", u, n, u, machine.Bypassing},
		{"trigger shut, whatever the pressure", y, n, n, machine.Bypassing},
		{"trigger open, pump full of air or inlet blocked behind the gauge", y, y, n, machine.Running},
		{"trigger open, no outlet gauge", y, y, u, machine.Running},
		{"trigger open, nozzle clogged", y, y, y, machine.Bypassing},
		{"no trigger switch, outlet holds pressure", y, u, y, machine.Bypassing},
		{"no trigger switch, no pressure: an unloader that dumps looks so too", y, u, n, machine.Bypassing},
		{"no trigger switch, no outlet gauge", y, u, u, machine.Bypassing},
		{"supply shut, pressure left in the hose", n, u, y, machine.Running},
	} {
		var m machine.Memory
		in := machine.Inputs{Turning: y, Flowing: y, InletFed: y, TriggerOpen: c.trigger}
		if c.trigger == n {
			in.TriggerOpen = y
		}
		machine.Step(&m, &cfg, in, 0)
		in = machine.Inputs{Turning: y, Flowing: n, InletFed: c.fed, TriggerOpen: c.trigger, OutletHeld: c.held}
		for now := time.Second; now < 10*time.Second; now += time.Second {
			machine.Step(&m, &cfg, in, now)
		}
		require.Equal(t, c.want, m.State, c.name)
	}
}

func TestStateFollowsOnlyFromWhatTurns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var m machine.Memory
		now := time.Duration(0)
		tri := func(name string) machine.Tri { return machine.Tri(rapid.IntRange(0, 2).Draw(t, name)) }
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			now += time.Duration(rapid.Int64Range(1, 2e9).Draw(t, "dt"))
			in := machine.Inputs{Turning: tri("turning"), Flowing: tri("flowing"), InletFed: tri("fed"), TriggerOpen: tri("trigger"), OutletHeld: tri("held")}
			s := machine.Step(&m, &cfg, in, now)
			require.Equal(t, in.Turning == machine.CannotTell, s == machine.Unknown)
			require.Equal(t, in.Turning == machine.Yes, s.Turning())
			require.LessOrEqual(t, m.Since, now)
		}
	})
}

func TestSets(t *testing.T) {
	set := machine.In(machine.Running, machine.Bypassing)
	require.True(t, set.Has(machine.Running))
	require.False(t, set.Has(machine.Stopped))
	require.False(t, machine.All.Has(machine.Unknown))
	for s := machine.Stopped; s < machine.NumStates; s++ {
		require.True(t, machine.All.Has(s))
		require.NotEmpty(t, s.Words())
		require.NotEqual(t, "unknown", s.String())
	}
}
