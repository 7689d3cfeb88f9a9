package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// only leaves the config with these channels and no other.
func only(cfg engine.Config, fitted ...frame.Channel) engine.Config {
	for c := range cfg.Signals {
		cfg.Signals[c].Fitted = false
	}
	for _, c := range fitted {
		cfg.Signals[c].Fitted = true
	}
	return cfg
}

var four = []frame.Channel{frame.InletPressure, frame.WaterTemp, frame.Flow, frame.MotorCurrent}

func with(more ...frame.Channel) []frame.Channel {
	return append(append([]frame.Channel{}, four...), more...)
}

// starving is a pump at work that gets hardly any water.
func starving() frame.Frame {
	f := healthy()
	f.Set(frame.InletPressure, -50e3)
	f.Set(frame.Flow, 1e-3/60)
	return f
}

func dry() frame.Frame {
	f := starving()
	f.Set(frame.Flow, 0)
	f.Set(frame.OutletPressure, 0)
	f.Set(frame.MotorCurrent, 7)
	return f
}

func set(f frame.Frame, c frame.Channel, v float64) frame.Frame {
	f.Set(c, v)
	return f
}

// A channel that says no of a turning pump is found out, the rules go on by
// what is left, and the fault that it would have hidden calls.
func TestAChannelThatSaysNoDoesNotCallATurningPumpStopped(t *testing.T) {
	for _, c := range []struct {
		name    string
		fitted  []frame.Channel
		liar    frame.Channel
		says    float64
		then    frame.Frame
		alarm   string
		suspect bool
		source  string
	}{
		{"clamp off, outlet gauge", with(frame.OutletPressure), frame.MotorCurrent, 0.03, starving(), "inlet_low.act", true, "energy: water leaves at more pressure than came"},
		{"clamp off, all fitted but speed", with(frame.OutletPressure, frame.Running, frame.PowerPresent, frame.Vibration), frame.MotorCurrent, 0.03, starving(), "inlet_low.act", true, "energy"},
		{"clamp off, four sensors only", four, frame.MotorCurrent, 0.03, starving(), "inlet_low.act", true, "a standing pump sucks nothing"},
		{"clamp off, shaft speed", with(frame.ShaftSpeed), frame.MotorCurrent, 0, dry(), "no_flow.act", true, "the shaft turns"},
		{"clamp off, vibration and switch", with(frame.Vibration, frame.Running), frame.MotorCurrent, 0, dry(), "no_flow.act", true, "two against one"},
		{"pick-up dead in a dry run", with(frame.ShaftSpeed), frame.ShaftSpeed, 0, dry(), "no_flow.act", true, "no motor draws its work's current at rest"},
		{"pick-up dead, outlet gauge", with(frame.ShaftSpeed, frame.OutletPressure), frame.ShaftSpeed, 0, starving(), "inlet_low.act", true, "energy"},
		{"switch wire broken", []frame.Channel{frame.Running, frame.Flow, frame.InletPressure, frame.OutletPressure}, frame.Running, 0, starving(), "inlet_low.act", true, "energy"},
	} {
		r := newRig(t, only(fixture(), c.fitted...))
		r.feed(stopped(), 3*time.Second)
		r.feed(healthy(), 30*time.Second)
		r.feed(set(healthy(), c.liar, c.says), 3*time.Second)
		v := r.feed(set(c.then, c.liar, c.says), 30*time.Second)
		require.Equal(t, c.suspect, v.Samples[c.liar].Status == frame.Suspect, c.name)
		require.Equal(t, machine.Running, v.Machine, c.name)
		require.True(t, v.Alarms[engine.SensorAlarm(c.liar)].Active, c.name)
		id, _ := engine.AlarmByName(c.alarm)
		require.True(t, v.Alarms[id].Active, c.name)
		require.EqualValues(t, 1, r.s.Totals().Starts, "%s: no second start", c.name)
	}
}

// The evidence goes just when a pump runs dry: what was found out must not be
// believed then.
func TestADeadClampIsNotBelievedWhenThePumpRunsDry(t *testing.T) {
	r := newRig(t, only(fixture(), with(frame.OutletPressure)...))
	r.running()
	r.feed(set(healthy(), frame.MotorCurrent, 0.03), 20*time.Second)
	v := r.feed(set(dry(), frame.MotorCurrent, 0.03), 10*time.Second)
	require.True(t, v.Alarms[engine.ActAlarm(engine.NoFlow)].Active, "an inlet sucked empty speaks for itself")

	v = r.feed(set(set(stopped(), frame.MotorCurrent, 0.03), frame.OutletPressure, 0), 10*time.Second)
	require.Equal(t, machine.Unknown, v.Machine, "with a dead clamp nothing tells of a stop")
	require.NotZero(t, v.Blind)

	r.feed(healthy(), 5*time.Second)
	v = r.feed(stopped(), 10*time.Second)
	require.Equal(t, frame.Good, v.Samples[frame.MotorCurrent].Status, "it said yes again")
	require.Equal(t, machine.Stopped, v.Machine)
}

// Where it can't be told who lies, the state is unknown and the rules say so.
func TestAContradictionThatNobodyDecidesIsUnknown(t *testing.T) {
	for _, c := range []struct {
		name   string
		fitted []frame.Channel
		f      frame.Frame
		why    string
	}{
		{"switch on, no current", with(frame.Running), set(dry(), frame.MotorCurrent, 0), "the clamp, or the supply's fuse"},
		{"switch on and live, no current", with(frame.Running, frame.PowerPresent), set(dry(), frame.MotorCurrent, 0), "the clamp, or the motor's protector"},
		{"engine on, no speed", []frame.Channel{frame.InletPressure, frame.Flow, frame.ShaftSpeed, frame.Running}, set(dry(), frame.ShaftSpeed, 0), "the pick-up, or a stalled engine"},
		{"work with two that say no", with(frame.OutletPressure, frame.ShaftSpeed), set(set(healthy(), frame.MotorCurrent, 0), frame.ShaftSpeed, 0), "two of either"},
	} {
		r := newRig(t, only(fixture(), c.fitted...))
		r.feed(stopped(), 3*time.Second)
		f := c.f
		f.Set(frame.InletPressure, 250e3)
		v := r.feed(f, 10*time.Second)
		require.Equal(t, machine.Unknown, v.Machine, c.name)
		require.NotZero(t, v.Blind, c.name)
		require.Equal(t, engine.StateUnknown, v.Rules[engine.NoFlow].Judge, c.name)
	}
	r := newRig(t, only(fixture(), with(frame.Running)...))
	v := r.feed(set(set(stopped(), frame.Running, 1), frame.MotorCurrent, 0), 10*time.Second)
	require.Contains(t, calling(v), "power_lost.act", "an unknown state doesn't rest what needs no turning pump")
}

// What only looks like a contradiction. The facts are common practice, no
// source.
func TestLagIsNoContradiction(t *testing.T) {
	held := set(stopped(), frame.OutletPressure, 8.8e6)
	purge := set(set(stopped(), frame.Flow, 7e-3/60), frame.OutletPressure, 300e3)
	coast := set(stopped(), frame.ShaftSpeed, 20)
	tail := set(held, frame.Flow, 3e-3/60) // the meter counts on while the hose holds
	vacuum := set(stopped(), frame.InletPressure, -60e3)
	locked := set(set(set(dry(), frame.ShaftSpeed, 0), frame.MotorCurrent, 80), frame.InletPressure, 290e3)
	tripped := set(set(stopped(), frame.Running, 1), frame.PowerPresent, 0)
	for _, c := range []struct {
		name   string
		before frame.Frame
		first  frame.Frame
		firstS time.Duration
		then   frame.Frame
		want   machine.State
	}{
		{"pressure held behind the check valve after a stop", healthy(), held, 0, held, machine.Stopped},
		{"hose under pressure with the trigger shut", set(set(healthy(), frame.Flow, 0), frame.Trigger, 0), held, 0, held, machine.Stopped},
		{"the meter's tail after a stop", healthy(), tail, 3 * time.Second, held, machine.Stopped},
		{"the shaft runs down", healthy(), coast, 4 * time.Second, stopped(), machine.Stopped},
		{"town pressure through a standing pump", stopped(), purge, 0, purge, machine.WaterOn},
		{"tap shut before the switch: the inlet stays sucked", dry(), vacuum, 0, vacuum, machine.Stopped},
		{"a locked rotor draws current and turns nothing", stopped(), locked, 0, locked, machine.Stopped},
		{"the switch is on and the supply is gone", healthy(), tripped, 0, tripped, machine.Stopped},
	} {
		for _, fitted := range [][]frame.Channel{
			with(frame.OutletPressure), with(frame.OutletPressure, frame.Running, frame.PowerPresent),
			with(frame.OutletPressure, frame.ShaftSpeed, frame.Running, frame.PowerPresent, frame.Trigger, frame.Vibration),
		} {
			if c.name == "a locked rotor draws current and turns nothing" && len(fitted) < 8 {
				continue // without its speed a motor that draws current is taken to turn
			}
			r := newRig(t, only(fixture(), fitted...))
			r.feed(stopped(), 3*time.Second)
			r.feed(c.before, 30*time.Second)
			r.feed(c.first, c.firstS)
			v := r.feed(c.then, 30*time.Second)
			require.Equal(t, c.want, v.Machine, "%s, %d channels", c.name, len(fitted))
			for ch, s := range v.Samples {
				require.NotEqual(t, frame.Suspect, s.Status, "%s: %s", c.name, frame.Channel(ch))
			}
			require.False(t, v.Alarms[engine.SensorAlarm(frame.MotorCurrent)].Active, c.name)
		}
	}
}

func TestATrailerThatShakesAtRestProvesNothing(t *testing.T) {
	r := newRig(t, only(fixture(), with(frame.Vibration, frame.Running)...))
	rest := set(set(stopped(), frame.Vibration, 3), frame.Running, 0) // a generator beside the pump
	r.feed(rest, 3*time.Second)
	r.feed(healthy(), 30*time.Second)
	require.Equal(t, machine.Stopped, r.feed(rest, 30*time.Second).Machine)
}

// A gap in the data is no time of contradiction.
func TestAContradictionIsSeenAndNotAssumed(t *testing.T) {
	r := newRig(t, only(fixture(), with(frame.OutletPressure)...))
	r.running()
	f := set(healthy(), frame.MotorCurrent, 0)
	r.feed(f, time.Second)
	r.now += time.Hour
	require.Equal(t, frame.Good, r.feed(f, time.Second).Samples[frame.MotorCurrent].Status)
}
