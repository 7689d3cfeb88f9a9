package engine_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// tankFed is the fixture drawing from a tank, without a switch at the trigger.
func tankFed(fedPa float64, level bool) engine.Config {
	cfg := fixture()
	cfg.Signals[frame.Trigger].Fitted = false
	cfg.Signals[frame.TankLevel].Fitted = level
	cfg.Machine.FedInletPa = fedPa
	cfg.Rules[engine.InletLow].Warn, cfg.Rules[engine.InletLow].Act = -15e3, -30e3
	return cfg
}

// atTank is a healthy frame with the inlet at a mean pressure and the pump's
// pulse on it.
func atTank(i int, inletPa, pulsePa, level float64) frame.Frame {
	f := healthy()
	f.Set(frame.InletPressure, inletPa+pulsePa*math.Sin(2.1*float64(i)))
	f.Set(frame.TankLevel, level)
	return f
}

// A tank of 0.9 m brings 998 x 9.81 x 0.9 = 8.8 kPa when full, less what line
// and foot valve take; a pump above it sees suction. A line with air in it is
// at air pressure, a shut one at water's vapour pressure, near -95 kPa gauge.
func TestNoFlowFromATank(t *testing.T) {
	for _, c := range []struct {
		name                            string
		fedPa                           float64
		levelFitted                     bool
		inletPa, pulsePa, level, outlet float64
		dry                             bool
		source                          string
	}{
		{"trigger let go", 2e3, true, 7e3, 9e3, 0.6, 10e6, false, "7 kPa of head"},
		{"trigger let go, default limit", 50e3, true, 7e3, 9e3, 0.6, 10e6, false, "the tank holds water and nothing sucks"},
		{"trigger let go, no level", 2e3, false, 7e3, 9e3, 0, 10e6, false, "7 kPa of head, above 2 kPa in the mean"},
		{"pump above its tank, no level", -10e3, false, -4e3, 3e3, 0, 10e6, false, "0.4 m of lift"},
		{"limit of 0", 0, false, 7e3, 3e3, 0, 10e6, false, "0 is a limit too"},
		{"suction shut", 2e3, true, -80e3, 3e3, 0.6, 0, true, "only a pump makes suction"},
		{"suction shut, limit below 0", -10e3, true, -80e3, 3e3, 0.6, 10e6, true, "only a pump makes suction"},
		{"line full of air", 2e3, true, -3e3, 2e3, 0.6, 0, true, "air pressure, and no outlet pressure"},
		{"tank empty", 2e3, true, -3e3, 3e3, 0.01, 0, true, "the level says it"},
		{"tank empty, limit below 0", -10e3, true, -3e3, 2e3, 0.01, 0, true, "the level says it"},
	} {
		for _, dt := range []time.Duration{tick, time.Second} {
			r := newRig(t, tankFed(c.fedPa, c.levelFitted))
			var v *engine.Verdicts
			step := func(f frame.Frame) {
				r.now += dt
				v = r.e.Step(&r.s, &f, r.now)
				r.log = append(r.log, v.Transitions()...)
			}
			for i := range 60 {
				step(atTank(i, 5e3, c.pulsePa, max(c.level, 0.3)))
			}
			from := r.now
			for i := range int(2 * time.Minute / dt) {
				f := atTank(i, c.inletPa, c.pulsePa, c.level)
				f.Set(frame.Flow, 0)
				f.Set(frame.OutletPressure, c.outlet)
				step(f)
			}
			at := r.raisedAt(engine.ActAlarm(engine.NoFlow))
			if c.dry {
				require.NotZero(t, at, "%s, a frame each %s: %s", c.name, dt, c.source)
				require.LessOrEqual(t, at-from, 5*time.Second, "%s, a frame each %s: %s", c.name, dt, c.source)
				continue
			}
			require.Zero(t, at, "%s, a frame each %s: %s", c.name, dt, c.source)
			require.Equal(t, machine.Bypassing, v.Machine, c.name)
			require.InDelta(t, 60, (r.raisedAt(engine.WarnAlarm(engine.Bypass)) - from).Seconds(), 4, "%s: the limit is 60 s from when it is sure", c.name)
		}
	}
}
