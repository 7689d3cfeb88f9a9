package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

func TestCausesGoOneWayOnly(t *testing.T) {
	require.Equal(t, []engine.RuleID{engine.TankLow}, engine.Causes(engine.InletLow))
	require.Equal(t, []engine.RuleID{engine.Bypass}, engine.Causes(engine.WaterHot))
	require.Empty(t, engine.Causes(engine.Frost))
	require.Nil(t, engine.Causes(engine.NumRules))
	require.Len(t, engine.Causes(engine.Departure), int(engine.NumRules)-1, "whatever happens, the machine leaves its normal")

	// over reports whether a is above b by any way.
	var over func(a, b engine.RuleID, deep int) bool
	over = func(a, b engine.RuleID, deep int) bool {
		require.Less(t, deep, int(engine.NumRules), "the way from %s to %s has a loop", a, b)
		for _, c := range engine.Causes(b) {
			if c == a || over(a, c, deep+1) {
				return true
			}
		}
		return false
	}
	for r := range engine.NumRules {
		if r != engine.Departure { // its causes are all others: checked above
			require.False(t, over(r, r, 0), "%s is its own cause", r)
		}
	}
}

// A bus that dies is one fault; sensors on different wires that fail at the
// same moment are as many, and each calls.
func TestSensorsStandUnderOneAnotherOnOneBusOnly(t *testing.T) {
	for _, c := range []struct {
		name              string
		inlet, temp, flow uint8
		tempUnder         bool
		flowUnder         frame.Channel
	}{
		{"one bus", 1, 1, 1, true, frame.InletPressure},
		{"a bus, and a pulse line", 1, 1, 2, true, frame.NumChannels},
		{"the second and third share one", 1, 2, 2, false, frame.WaterTemp},
		{"each by itself", 0, 0, 0, false, frame.NumChannels},
	} {
		cfg := fixture()
		cfg.Signals[frame.InletPressure].Bus, cfg.Signals[frame.WaterTemp].Bus, cfg.Signals[frame.Flow].Bus = c.inlet, c.temp, c.flow
		r := newRig(t, cfg)
		r.running()
		f := healthy()
		for _, ch := range []frame.Channel{frame.InletPressure, frame.WaterTemp, frame.Flow} {
			f.Samples[ch] = frame.Sample{Status: frame.Failed}
		}
		v := r.feed(f, 2*time.Second)
		for ch, under := range map[frame.Channel]bool{frame.InletPressure: false, frame.WaterTemp: c.tempUnder} {
			a := v.Alarms[engine.SensorAlarm(ch)]
			require.True(t, a.Active, "%s: %s", c.name, ch)
			require.Equal(t, under, a.HasCause, "%s: %s", c.name, ch)
		}
		a := v.Alarms[engine.SensorAlarm(frame.Flow)]
		require.True(t, a.Active, c.name)
		require.Equal(t, c.flowUnder != frame.NumChannels, a.HasCause, c.name)
		if a.HasCause {
			require.Equal(t, engine.SensorAlarm(c.flowUnder), a.Under, c.name)
		}
	}
}
