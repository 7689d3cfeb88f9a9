package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// hangs is a machine switched off whose speed stays what it was.
func hangs() frame.Frame {
	f := set(stopped(), frame.ShaftSpeed, 28.75)
	return set(f, frame.Trigger, 1) // the trigger is let go later
}

var switched = with(frame.OutletPressure, frame.ShaftSpeed, frame.Running, frame.PowerPresent, frame.Trigger)

// A speed that hangs after the switch is off is no dry run. The facts are common
// practice, no source.
func TestASpeedThatHangsAfterTheStopIsNoDryRun(t *testing.T) {
	for _, c := range []struct {
		name   string
		phases []phase
	}{
		{"without a break", []phase{{hangs(), 20 * time.Second}}},
		{"a reading of the current missing", []phase{{hangs(), 3 * time.Second}, {without(hangs(), frame.MotorCurrent), tick}, {hangs(), 20 * time.Second}}},
		{"a reading of the speed missing", []phase{{hangs(), 3 * time.Second}, {without(hangs(), frame.ShaftSpeed), tick}, {hangs(), 20 * time.Second}}},
	} {
		r := newRig(t, only(fixture(), switched...))
		r.running()
		r.log = nil
		v := r.play(false, c.phases...)
		require.Equal(t, frame.Suspect, v.Samples[frame.ShaftSpeed].Status, c.name)
		require.Equal(t, machine.Stopped, v.Machine, c.name)
		require.Equal(t, []string{"sensor.shaft_speed"}, calling(v), c.name)
		for _, l := range r.log {
			require.Equal(t, engine.SensorAlarm(frame.ShaftSpeed), l.Alarm, c.name)
		}
		v = r.feed(stopped(), 5*time.Second)
		require.Equal(t, frame.Good, v.Samples[frame.ShaftSpeed].Status, "%s: it moves", c.name)
	}
}

// Against the clamp alone a steady speed is believed, and a shaft that runs down
// accuses nobody.
func TestASteadySpeedIsNotDoubtedForOneNo(t *testing.T) {
	r := newRig(t, only(fixture(), switched...))
	r.running()
	v := r.feed(deadClamp(dry()), 15*time.Second)
	require.Equal(t, frame.Good, v.Samples[frame.ShaftSpeed].Status)
	require.Equal(t, frame.Suspect, v.Samples[frame.MotorCurrent].Status)
	require.True(t, v.Alarms[engine.ActAlarm(engine.NoFlow)].Active)

	r = newRig(t, only(fixture(), switched...))
	r.running()
	for hz := 28.0; hz > 0; hz -= 0.5 {
		r.feed(set(hangs(), frame.ShaftSpeed, hz), tick)
	}
	v = r.feed(stopped(), 10*time.Second)
	require.Equal(t, frame.Good, v.Samples[frame.ShaftSpeed].Status)
	require.Empty(t, calling(v))
}
