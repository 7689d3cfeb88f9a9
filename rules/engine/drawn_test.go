package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// phase is a frame that lasts, with the flow moving as a live meter's does.
type phase struct {
	f frame.Frame
	d time.Duration
}

func (r *rig) play(live bool, phases ...phase) *engine.Verdicts {
	var v *engine.Verdicts
	for _, p := range phases {
		if !live {
			v = r.feed(p.f, p.d)
			continue
		}
		v = r.feedNoisy(p.f, frame.Flow, 0.005*p.f.Samples[frame.Flow].Value, p.d)
	}
	return v
}

// deadClamp is a frame whose motor current reads nothing.
func deadClamp(f frame.Frame) frame.Frame { return set(f, frame.MotorCurrent, 0) }

// cooling lets the inlet's pressure sink over the time.
func cooling(fromPa, toPa float64, d time.Duration) []phase {
	const steps = 40
	var out []phase
	for i := range steps {
		out = append(out, phase{set(stopped(), frame.InletPressure, fromPa+(toPa-fromPa)*float64(i+1)/steps), d / steps})
	}
	return out
}

// Suction arises at a turning pump only, however dead the clamp has been.
func TestSuctionThatArisesAtAMachineCalledStoppedShowsThatItTurns(t *testing.T) {
	fed, sucked := deadClamp(healthy()), deadClamp(dry())
	sucked.Set(frame.InletPressure, -80e3)
	for _, c := range []struct {
		name    string
		fitted  []frame.Channel
		phases  []phase
		suspect bool
		want    machine.State
		source  string
	}{
		{"no flow meter, supply shut", []frame.Channel{frame.InletPressure, frame.MotorCurrent}, []phase{{fed, 60 * time.Second}, {sucked, 9 * time.Second}}, true, machine.Running, "a pump that stands sucks nothing"},
		{"called purging, supply shut", four, []phase{{fed, 60 * time.Second}, {sucked, 9 * time.Second}}, true, machine.Running, "a pump that stands sucks nothing"},
		{"a reading missing in between", four, []phase{{fed, 60 * time.Second}, {sucked, 3 * time.Second}, {without(sucked, frame.InletPressure), tick}, {sucked, 6 * time.Second}}, true, machine.Running, "common practice, no source"},
		{"the tap shut after the stop, and the suction let go", four, []phase{{healthy(), 20 * time.Second}, {stopped(), 60 * time.Second}, {set(stopped(), frame.InletPressure, 0), 60 * time.Second}}, false, machine.Stopped, "common practice, no source"},
		{"the tap shut before the stop: suction is left", four, []phase{{healthy(), 20 * time.Second}, {dry(), 5 * time.Second}, {set(stopped(), frame.InletPressure, -80e3), 60 * time.Second}}, false, machine.Stopped, "common practice, no source"},
		{"a hose that hangs three metres down", four, []phase{{stopped(), 60 * time.Second}, {set(stopped(), frame.InletPressure, -29.4e3), 60 * time.Second}}, false, machine.Stopped, "hydrostatics: 3 m of water at 9.81 m/s2 make 29.4 kPa"},
	} {
		r := newRig(t, only(fixture(), c.fitted...))
		r.feed(stopped(), 20*time.Second)
		v := r.play(false, c.phases...)
		require.Equal(t, c.suspect, v.Samples[frame.MotorCurrent].Status == frame.Suspect, c.name)
		require.Equal(t, c.want, v.Machine, c.name)
		require.Equal(t, c.suspect, v.Alarms[engine.ActAlarm(engine.InletLow)].Active, c.name)
	}
}

// Hot water that cools behind a shut tap makes suction too, in minutes: who is
// right can't be told then, and nobody is accused.
func TestSuctionThatComesSlowlyAccusesNobody(t *testing.T) {
	r := newRig(t, only(fixture(), four...))
	r.play(false, phase{healthy(), 20 * time.Second}, phase{stopped(), 30 * time.Second})
	v := r.play(false, cooling(200e3, -70e3, 10*time.Minute)...)
	require.Equal(t, frame.Good, v.Samples[frame.MotorCurrent].Status)
	require.Equal(t, machine.Unknown, v.Machine)
	require.Empty(t, calling(v))
}

// A switch that is turned off after the dead clamp was found is believed.
func TestASwitchTurnedOffEndsTheSuctionsWord(t *testing.T) {
	sucked := set(deadClamp(dry()), frame.InletPressure, -80e3)
	r := newRig(t, only(fixture(), with(frame.Running, frame.PowerPresent)...))
	r.feed(stopped(), 20*time.Second)
	v := r.play(false, phase{deadClamp(healthy()), 60 * time.Second}, phase{sucked, 20 * time.Second})
	require.Equal(t, machine.Running, v.Machine)
	v = r.play(false, phase{set(sucked, frame.Running, 0), 20 * time.Second})
	require.Equal(t, machine.Stopped, v.Machine)
	require.False(t, v.Alarms[engine.SensorAlarm(frame.Running)].Active)
}

// The same flow through the same nozzle needs the same pressure, which no
// supply brings through a standing pump. Source: the orifice equation.
func TestAFlowThatStaysWhileTheCurrentGoesShowsThatThePumpTurns(t *testing.T) {
	unloaded := set(healthy(), frame.MotorCurrent, 6.5)
	purge := deadClamp(set(healthy(), frame.Flow, 1.3e-3/60))
	for _, c := range []struct {
		name    string
		live    bool
		work    frame.Frame
		then    frame.Frame
		suspect bool
		want    machine.State
		source  string
	}{
		{"clamp off its wire at full work", true, healthy(), deadClamp(healthy()), true, machine.Running, "orifice equation"},
		{"stop with the trigger open", true, healthy(), purge, false, machine.WaterOn, "orifice equation: 290 kPa of 9 MPa give 18 % of the flow"},
		{"hose without a nozzle: the supply may give as much", true, unloaded, deadClamp(healthy()), false, machine.WaterOn, "common practice, no source"},
		{"a meter that hangs since before the stop", false, healthy(), deadClamp(healthy()), false, machine.WaterOn, "common practice, no source"},
	} {
		r := newRig(t, only(fixture(), four...))
		r.feed(stopped(), 5*time.Second)
		v := r.play(c.live, phase{c.work, 30 * time.Second}, phase{c.then, 8 * time.Second})
		require.Equal(t, c.suspect, v.Samples[frame.MotorCurrent].Status == frame.Suspect, c.name)
		require.Equal(t, c.want, v.Machine, c.name)
		require.EqualValues(t, 1, r.s.Totals().Starts, c.name)
	}
}

// without is the frame with no sample of the channel.
func without(f frame.Frame, c frame.Channel) frame.Frame {
	f.Samples[c] = frame.Sample{Status: frame.Missing}
	return f
}
