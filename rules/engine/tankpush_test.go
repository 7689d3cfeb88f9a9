package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// fromTank is the fixture on a tank, with an inlet gauge that reads p.
func fromTank(f frame.Frame, p float64) frame.Frame {
	return set(set(f, frame.TankLevel, 0.8), frame.InletPressure, p)
}

// A gauge with the wrong sign must not turn a pump that sucks into one with a
// closed outlet. Pressures by hydrostatics: 0.8 m of water make 7.8 kPa.
func TestATanksInletThatRisesWhenTheFlowGoesIsSuspect(t *testing.T) {
	short := func(p, flow float64) frame.Frame {
		return set(set(fromTank(dry(), p), frame.OutletPressure, 200e3), frame.Flow, flow*7.6e-3/60)
	}
	trigger := with(frame.TankLevel, frame.Trigger)
	for _, c := range []struct {
		name           string
		fitted         []frame.Channel
		restPa, workPa float64
		then           frame.Frame
		suspect        bool
		act            string
		source         string
	}{
		{"wrong sign, suction shut", with(frame.TankLevel), -7.8e3, -5e3, short(80e3, 0), true, "no_flow.act", "a tank pushes with its height and no more"},
		{"wrong sign, a fifth of the flow", with(frame.TankLevel), -7.8e3, -5e3, short(80e3, 0.2), true, "flow_short.act", "a tank pushes with its height and no more"},
		{"wrong sign, less than half the flow, outlet gauge", with(frame.TankLevel, frame.OutletPressure), -7.8e3, -5e3, set(short(80e3, 0.4), frame.OutletPressure, 2e6), true, "flow_short.act", "a tank pushes with its height and no more"},
		{"right sign, outlet closed", with(frame.TankLevel), 7.8e3, 5e3, set(fromTank(healthy(), 7.8e3), frame.Flow, 0), false, "", "hydrostatics"},
		{"right sign, suction shut", with(frame.TankLevel), 7.8e3, 5e3, short(-80e3, 0), false, "no_flow.act", "a tank pushes with its height and no more"},
		{"hose-fed, tap opened after the start", four, 0, 250e3, set(fromTank(healthy(), 300e3), frame.Flow, 0), false, "", "common practice, no source"},
		{"tank fitted, but fed from a tap", with(frame.TankLevel), 7.8e3, 250e3, set(fromTank(healthy(), 300e3), frame.Flow, 0), false, "", "common practice, no source"},
		{"trigger let go", trigger, 7.8e3, 5e3, set(set(fromTank(healthy(), 100e3), frame.Flow, 0), frame.Trigger, 0), false, "", "common practice, no source"},
	} {
		cfg := only(fixture(), c.fitted...)
		cfg.Machine.FedInletPa = 2e3
		cfg.Rules[engine.InletLow].On = false
		r := newRig(t, cfg)
		r.feed(fromTank(stopped(), c.restPa), 5*time.Second)
		r.feed(fromTank(healthy(), c.workPa), 20*time.Second)
		lag := set(c.then, frame.Flow, 0.92*7.6e-3/60) // the flow meter is slower than the gauge
		r.feed(lag, 2*tick)
		v := r.feed(c.then, 10*time.Second)
		require.Equal(t, c.suspect, v.Samples[frame.InletPressure].Status == frame.Suspect, c.name)
		if c.act == "" {
			require.Equal(t, machine.Bypassing, v.Machine, c.name)
			require.Empty(t, calling(v), c.name)
			continue
		}
		id, _ := engine.AlarmByName(c.act)
		require.True(t, v.Alarms[id].Active, c.name)
	}
}
