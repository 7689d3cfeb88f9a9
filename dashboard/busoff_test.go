package dashboard

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// busOff is the program's own state 15 s after the bus of the converters was
// cut while the pump ran: the scenario sensor_bus_off with the cut at 0:20,
// rule by rule, channel by channel and alarm by alarm as /api/v1/status gave
// them. Only the switches still read, and of the limits the power alone, which
// is a yes or no.
func busOff() *scene {
	s := &scene{points: 20}
	s.snap = snapshot.Snapshot{Seq: 246, Mono: 24600 * time.Millisecond, Wall: noon}
	vd := &s.snap.Verdicts
	vd.T, vd.Machine, vd.MachineSince = s.snap.Mono, machine.Running, 12*time.Second
	for c := range frame.NumChannels {
		switch c {
		case frame.Vibration2, frame.TankLevel, frame.MotorTemp, frame.AirPressure:
			vd.Samples[c].Status = frame.NotFitted
		case frame.Running, frame.Trigger, frame.PowerPresent:
			vd.Samples[c] = frame.Sample{Value: 1, Status: frame.Good}
		default:
			vd.Samples[c].Status, s.snap.Notes[c] = frame.Failed, "no signal: wire off"
		}
	}
	for r, c := range busOffBlame() {
		s.cannot(r, engine.NoReading, c)
	}
	s.cannot(engine.Bypass, engine.NotNow, frame.NumChannels)
	s.cannot(engine.Frost, engine.NotNow, frame.NumChannels)
	s.cannot(engine.TankLow, engine.NotFitted, frame.TankLevel)
	s.cannot(engine.Wear, engine.NotSet, frame.NumChannels)
	s.cannot(engine.Departure, engine.SwitchedOff, frame.NumChannels)
	vd.Rules[engine.PowerLost] = engine.Verdict{Rule: engine.PowerLost, Judge: engine.Watching, Blame: frame.NumChannels, About: frame.NumChannels, Headroom: 1, Share: 1}
	first := engine.SensorAlarm(frame.InletPressure)
	s.alarm(first, engine.Warning, 10800*time.Millisecond, true)
	s.alarm(engine.SensorAlarm(frame.WaterTemp), engine.Warning, 9800*time.Millisecond, false)
	for _, c := range []frame.Channel{frame.Flow, frame.MotorCurrent, frame.OutletPressure, frame.ShaftSpeed, frame.SupplyVoltage, frame.Vibration, frame.InletPulsation} {
		s.alarm(engine.SensorAlarm(c), engine.Advice, 10800*time.Millisecond, false)
		s.put(engine.SensorAlarm(c), first)
	}
	s.alarm(engine.SensorAlarm(frame.AmbientTemp), engine.Advice, 9800*time.Millisecond, false)
	s.put(engine.SensorAlarm(frame.AmbientTemp), engine.SensorAlarm(frame.WaterTemp))
	return s
}

// busOffBlame are the rules that then cannot judge, with the channel blamed.
func busOffBlame() map[engine.RuleID]frame.Channel {
	return map[engine.RuleID]frame.Channel{
		engine.InletLow: frame.InletPressure, engine.InletHigh: frame.InletPressure, engine.WaterHot: frame.WaterTemp, engine.NPSHMargin: frame.InletPressure,
		engine.FlowShort: frame.Flow, engine.CircuitLoad: frame.MotorCurrent, engine.NoFlow: frame.Flow, engine.OutletHigh: frame.OutletPressure,
		engine.Cavitation: frame.NumChannels, engine.BreakerTime: frame.MotorCurrent, engine.MotorHeat: frame.MotorCurrent,
		engine.MotorVoltage: frame.SupplyVoltage, engine.StartJam: frame.MotorCurrent, engine.Discharge: frame.Flow,
	}
}

// What nobody sees is nearer than what has room: with dead sensors the large
// figure counts them, and a yes or no is no distance. Source: ISA-101.01, by the
// project's list of requirements: unknown is shown as unknown.
func TestDeadSensorsTakeTheLargeFigure(t *testing.T) {
	s := newServer(testOptions(), busOff().feed())
	v := s.view(prefs{})
	require.Equal(t, &blindCount{14, 19}, v.Answer.Blind)
	require.Nil(t, v.Answer.Nearest)
	got := answerOf(text(t, get(t, s.handler(), "/")))
	require.Contains(t, got, "14 of 19 limits not judged")
	for _, not := range []string{"in order", "Nearest", "have room"} {
		require.NotContains(t, got, not)
	}
}

// A yes or no that is passed is said before its delay has run out.
func TestYesAndNoIsSaidOnceItIsPassed(t *testing.T) {
	sc := steady()
	sc.snap.Verdicts.Rules[engine.PowerLost] = engine.Verdict{Rule: engine.PowerLost, Judge: engine.Watching, Blame: frame.NumChannels, About: frame.NumChannels, Headroom: -1, Share: -1}
	got := answerOf(text(t, get(t, newServer(testOptions(), sc.feed()).handler(), "/")))
	require.Contains(t, got, "Limit passed")
	require.Contains(t, got, "not in order")
}
