package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// The fixture displaces 4.64 cm3 at 28.75 Hz, 8.0 L/min by hand.
func TestAFlowBeyondTheDisplacementIsSuspect(t *testing.T) {
	lpm := func(f frame.Frame, flow float64) frame.Frame { return set(f, frame.Flow, flow/60e3) }
	outlet, speed := with(frame.OutletPressure), with(frame.ShaftSpeed)
	for _, c := range []struct {
		name    string
		fitted  []frame.Channel
		f       frame.Frame
		d       time.Duration
		suspect bool
		source  string
	}{
		{"14 L/min at the motor's load", four, lpm(healthy(), 14), 15 * time.Second, true, "ISO 4391: displacement times speed"},
		{"14 L/min at the rated pressure", outlet, lpm(healthy(), 14), 15 * time.Second, true, "ISO 4391"},
		{"a good pump's flow", four, healthy(), 60 * time.Second, false, "ISO 4391"},
		{"a plate with a tenth of tolerance", four, lpm(healthy(), 8.8), 60 * time.Second, false, "common practice, no source"},
		{"for a moment", four, lpm(healthy(), 14), 8 * time.Second, false, "common practice, no source"},
		{"a hose without a nozzle: the supply pushes, by the current", four, set(lpm(healthy(), 14), frame.MotorCurrent, 6.5), 60 * time.Second, false, "energy: nothing to press against"},
		{"a hose without a nozzle: the supply pushes, by the outlet", outlet, set(lpm(healthy(), 14), frame.OutletPressure, 100e3), 60 * time.Second, false, "energy: nothing to press against"},
		{"a pick-up that misses half the pulses", speed, set(healthy(), frame.ShaftSpeed, 14.4), 60 * time.Second, false, "common practice, no source"},
		{"an engine that runs a fifth too fast", speed, set(lpm(healthy(), 9.1), frame.ShaftSpeed, 34.5), 60 * time.Second, false, "ISO 4391"},
		{"a reading of the current missing", four, lpm(healthy(), 14), 6 * time.Second, true, "common practice, no source"},
		{"one reading missing", four, lpm(healthy(), 14), 6 * time.Second, true, "common practice, no source"},
	} {
		cfg := only(fixture(), c.fitted...)
		cfg.States.Hold = time.Second
		r := newRig(t, cfg)
		r.running()
		v := r.feed(c.f, c.d)
		lost, some := map[string]frame.Channel{"one reading missing": frame.Flow, "a reading of the current missing": frame.MotorCurrent}[c.name]
		for range 5 {
			if some {
				r.feed(without(c.f, lost), tick)
				v = r.feed(c.f, c.d)
			}
		}
		told := 0
		for _, l := range r.log {
			if l.Alarm == engine.SensorAlarm(frame.Flow) {
				told++
			}
		}
		require.LessOrEqual(t, told, 1, "%s: it doesn't come and go", c.name)
		require.Equal(t, c.suspect, v.Samples[frame.Flow].Status == frame.Suspect, c.name)
		require.Equal(t, c.suspect, v.Rules[engine.FlowShort].Judge == engine.NoReading, c.name)
	}
}
