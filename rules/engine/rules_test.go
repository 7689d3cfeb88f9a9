package engine_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

func TestHealthyMachineIsQuietAndWatched(t *testing.T) {
	r := newRig(t, fixture())
	v := r.running()
	require.Empty(t, r.log)
	require.Equal(t, machine.Running, v.Machine)
	require.Equal(t, engine.Normal, v.Level)
	require.Zero(t, v.Blind)
	for id, want := range map[engine.RuleID]engine.Judge{
		engine.InletLow: engine.Watching, engine.InletHigh: engine.Watching, engine.WaterHot: engine.Watching,
		engine.NPSHMargin: engine.Watching, engine.FlowShort: engine.Watching, engine.CircuitLoad: engine.Watching,
		engine.NoFlow: engine.Watching, engine.OutletHigh: engine.Watching, engine.Bypass: engine.NotNow,
		engine.TankLow: engine.NotFitted, engine.Departure: engine.SwitchedOff,
	} {
		require.Equal(t, want, v.Rules[id].Judge, id.String())
	}
}

// Each fault held steady raises exactly the alarms that its physics and the
// limits say, each one delay after the fault, to the tick.
func TestFaultRaisesItsAlarmsOneDelayLater(t *testing.T) {
	for _, c := range []struct {
		name  string
		set   map[frame.Channel]float64
		delay map[engine.AlarmID]time.Duration
		// later are raised too, but by smoothed values, so not to the tick.
		later  []engine.AlarmID
		source string
	}{
		{"supply sags", map[frame.Channel]float64{frame.InletPressure: 60e3},
			map[engine.AlarmID]time.Duration{engine.WarnAlarm(engine.InletLow): time.Second}, nil,
			"60 kPa is below the warning limit of 70 kPa and above 20 kPa; NPSH available is about 16 m"},
		{"supply shut", map[frame.Channel]float64{frame.InletPressure: -85e3, frame.Flow: 0, frame.OutletPressure: 0, frame.MotorCurrent: 7},
			map[engine.AlarmID]time.Duration{
				engine.WarnAlarm(engine.InletLow): time.Second, engine.ActAlarm(engine.InletLow): time.Second,
				engine.WarnAlarm(engine.NPSHMargin): time.Second, engine.ActAlarm(engine.NPSHMargin): time.Second,
				engine.WarnAlarm(engine.FlowShort): 2 * time.Second, engine.ActAlarm(engine.FlowShort): 2 * time.Second,
				engine.ActAlarm(engine.NoFlow): time.Second,
			}, []engine.AlarmID{engine.WarnAlarm(engine.Cavitation)},
			"16 kPa absolute less 1.7 kPa vapour pressure is 1.5 m, less 2.5 m required: below 0; NPSH required is assumed and nothing hammers, so cavitation is likely and not severe"},
		{"hot supply", map[frame.Channel]float64{frame.WaterTemp: 335.15},
			map[engine.AlarmID]time.Duration{
				engine.WarnAlarm(engine.WaterHot): 3 * time.Second, engine.ActAlarm(engine.WaterHot): 3 * time.Second,
			}, nil, "62 C is above 60 C"},
		{"mains pressure too high", map[frame.Channel]float64{frame.InletPressure: 700e3},
			map[engine.AlarmID]time.Duration{
				engine.WarnAlarm(engine.InletHigh): time.Second, engine.ActAlarm(engine.InletHigh): time.Second,
			}, nil, "690 kPa is 100 psi"},
		{"overload", map[frame.Channel]float64{frame.MotorCurrent: 21},
			map[engine.AlarmID]time.Duration{
				engine.WarnAlarm(engine.CircuitLoad): 3 * time.Second, engine.ActAlarm(engine.CircuitLoad): 3 * time.Second,
			}, nil, "21 A on 20 A"},
		{"slip", map[frame.Channel]float64{frame.Flow: 6.3e-3 / 60, frame.OutletPressure: 9e6 * 6.3 * 6.3 / 7.6 / 7.6},
			map[engine.AlarmID]time.Duration{engine.WarnAlarm(engine.FlowShort): 2 * time.Second}, nil,
			"4.64 mL x 28.75 /s x 0.95 is 7.60 L/min; 6.3 is 83 %"},
		{"unloader stuck", map[frame.Channel]float64{frame.OutletPressure: 11e6},
			map[engine.AlarmID]time.Duration{
				engine.WarnAlarm(engine.OutletHigh): time.Second, engine.ActAlarm(engine.OutletHigh): time.Second,
			}, nil, "11 MPa on a 9 MPa pump; the nozzle's factor is 10 % off, below 15 %"},
		{"short circuit is near", map[frame.Channel]float64{frame.MotorCurrent: 60},
			map[engine.AlarmID]time.Duration{
				engine.WarnAlarm(engine.CircuitLoad): 3 * time.Second, engine.ActAlarm(engine.CircuitLoad): 3 * time.Second,
				engine.WarnAlarm(engine.BreakerTime): time.Second, engine.ActAlarm(engine.BreakerTime): time.Second,
			}, []engine.AlarmID{
				engine.WarnAlarm(engine.StartJam), engine.ActAlarm(engine.StartJam),
				engine.WarnAlarm(engine.MotorHeat), engine.ActAlarm(engine.MotorHeat),
			}, "UL 489: 300 % trips well within 2 min; 4 times the motor's 15 A is a jam; a motor as warm as at its rating has 85 % after 400 s ln(11.35/11.25) = 4 s"},
		{"long cord", map[frame.Channel]float64{frame.SupplyVoltage: 109},
			map[engine.AlarmID]time.Duration{engine.WarnAlarm(engine.MotorVoltage): 2 * time.Second}, nil,
			"NEMA MG-1: 10 % below 120 V is 108 V"},
		{"hose off", map[frame.Channel]float64{frame.OutletPressure: 0.3e6},
			map[engine.AlarmID]time.Duration{}, []engine.AlarmID{engine.WarnAlarm(engine.Discharge), engine.ActAlarm(engine.Discharge)},
			"full flow at a thirtieth of the pressure"},
		{"breaker tripped", map[frame.Channel]float64{
			frame.PowerPresent: 0, frame.MotorCurrent: 0, frame.ShaftSpeed: 0, frame.Flow: 0, frame.OutletPressure: 0, frame.SupplyVoltage: 0,
		},
			map[engine.AlarmID]time.Duration{engine.ActAlarm(engine.PowerLost): time.Second}, nil, "switched on without power"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(t, fixture())
			r.running()
			f := healthy()
			for ch, v := range c.set {
				f.Set(ch, v)
			}
			onset := r.now + tick
			r.feed(f, 20*time.Second)
			got := map[engine.AlarmID]time.Duration{}
			later := map[engine.AlarmID]bool{}
			for _, tr := range r.log {
				require.True(t, tr.Raised)
				if slices.Contains(c.later, tr.Alarm) {
					later[tr.Alarm] = true
					continue
				}
				require.Equal(t, onset, tr.Onset, tr.Alarm.String())
				got[tr.Alarm] = tr.T - onset
			}
			require.Equal(t, c.delay, got, c.source)
			require.Len(t, later, len(c.later), c.source)
		})
	}
}

func TestBypassIsToldAndTimed(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	f := healthy()
	f.Set(frame.Trigger, 0)
	f.Set(frame.Flow, 0)
	v := r.feed(f, 20*time.Second)
	require.Equal(t, machine.Bypassing, v.Machine)
	b := v.Rules[engine.Bypass]
	require.Equal(t, engine.Watching, b.Judge)
	// The outlet looked closed in the first of these frames; the state began a
	// second later.
	require.InDelta(t, 18.9, b.Value, 1e-9)
	require.InDelta(t, 161.1, b.TimeToS, 1e-9)
	require.Equal(t, engine.NotNow, v.Rules[engine.NoFlow].Judge)
	r.feed(f, 200*time.Second)
	require.Len(t, r.log, 2)
	require.Equal(t, 60*time.Second, r.log[0].T-v.MachineSince)
	require.Equal(t, 180*time.Second, r.log[1].T-v.MachineSince)
	r.feed(healthy(), 3*time.Second)
	require.Len(t, r.log, 4, "both clear when the trigger opens")
}

func TestUnknownIsNotOK(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	f := healthy()
	f.Samples[frame.WaterTemp].Status = frame.Failed
	v := r.feed(f, 5*time.Second)
	for _, id := range []engine.RuleID{engine.WaterHot, engine.NPSHMargin} {
		require.Equal(t, engine.NoReading, v.Rules[id].Judge)
		require.Equal(t, frame.WaterTemp, v.Rules[id].Blame)
	}
	require.GreaterOrEqual(t, v.Blind, 2)
	require.True(t, v.Alarms[engine.SensorAlarm(frame.WaterTemp)].Active)
	require.Equal(t, engine.Warning, v.Level)
}

// An alarm that stands when its sensor dies must not go away: not knowing is
// no reason to call it well.
func TestStandingAlarmSurvivesItsSensor(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	f := healthy()
	f.Set(frame.WaterTemp, 340)
	r.feed(f, 5*time.Second)
	f.Samples[frame.WaterTemp].Status = frame.Stale
	v := r.feed(f, 30*time.Second)
	require.True(t, v.Alarms[engine.ActAlarm(engine.WaterHot)].Active)
	v = r.feed(healthy(), 5*time.Second)
	require.False(t, v.Alarms[engine.ActAlarm(engine.WaterHot)].Active)
}

func TestStateUnknownWithoutAnyChannelThatCouldTell(t *testing.T) {
	r := newRig(t, fixture())
	f := healthy()
	for _, c := range []frame.Channel{frame.ShaftSpeed, frame.MotorCurrent, frame.Running} {
		f.Samples[c].Status = frame.Failed
	}
	v := r.feed(f, 5*time.Second)
	require.Equal(t, machine.Running, v.Machine, "water leaves at more pressure than it came with")
	f.Samples[frame.OutletPressure].Status = frame.Failed
	v = r.feed(f, 5*time.Second)
	require.Equal(t, machine.Unknown, v.Machine)
	require.Equal(t, engine.StateUnknown, v.Rules[engine.InletLow].Judge)
	require.Equal(t, engine.Watching, v.Rules[engine.InletHigh].Judge, "too much pressure is judged whatever runs")
}

func TestStuckValueIsFoundOnlyWhileTurning(t *testing.T) {
	cfg := fixture()
	cfg.Signals[frame.InletPressure].StuckAfter = 5 * time.Second
	r := newRig(t, cfg)
	v := r.feed(stopped(), 60*time.Second)
	require.Equal(t, frame.Good, v.Samples[frame.InletPressure].Status)
	v = r.feed(healthy(), 20*time.Second)
	require.Equal(t, frame.Stuck, v.Samples[frame.InletPressure].Status)
	f := healthy()
	f.Set(frame.InletPressure, 251e3)
	v = r.feed(f, tick)
	require.Equal(t, frame.Good, v.Samples[frame.InletPressure].Status)
}

// An outlet without pressure rests at one value where the line is dry or burst;
// against a flow and a motor at work it is a dead gauge.
func TestAnOutletAtNothingIsStuckOnlyAgainstTheOthers(t *testing.T) {
	cfg := fixture()
	cfg.Signals[frame.OutletPressure].StuckAfter = 5 * time.Second
	for _, c := range []struct {
		name   string
		set    map[frame.Channel]float64
		want   frame.Status
		source string
	}{
		{"at work", map[frame.Channel]float64{frame.OutletPressure: 0}, frame.Stuck, "14 A do not go round for nothing"},
		{"dry", map[frame.Channel]float64{frame.OutletPressure: 0, frame.Flow: 0}, frame.Good, "common practice, no source"},
		{"burst", map[frame.Channel]float64{frame.OutletPressure: 50e3, frame.MotorCurrent: 6.2}, frame.Good, "a pump without pressure takes little more than the 6 A without load"},
		{"at half the pressure, unloaded", map[frame.Channel]float64{frame.OutletPressure: 4.5e6, frame.MotorCurrent: 6.2}, frame.Stuck, "a pressure has noise"},
	} {
		r := newRig(t, cfg)
		r.running()
		f := healthy()
		for ch, v := range c.set {
			f.Set(ch, v)
		}
		v := r.feed(f, 20*time.Second)
		require.Equal(t, c.want, v.Samples[frame.OutletPressure].Status, "%s: %s", c.name, c.source)
	}
}

func TestBadTimesAndGaps(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	f := healthy()
	before := r.s.Totals()
	r.e.Step(&r.s, &f, r.now)
	r.e.Step(&r.s, &f, r.now-time.Second)
	require.Equal(t, before.Frames, r.s.Totals().Frames)
	require.EqualValues(t, 2, r.s.Totals().Rejected)

	// A delay must be seen, not assumed: half a second beyond the limit, an
	// hour without frames, and half a second again raise nothing.
	f.Set(frame.InletPressure, 10e3)
	r.feed(f, 500*time.Millisecond)
	r.now += time.Hour
	r.feed(f, 500*time.Millisecond)
	require.Empty(t, r.log)
	require.EqualValues(t, 1, r.s.Totals().Gaps)
	require.Less(t, r.s.Totals().Exposures[engine.InletLow].BeyondActS, 1.1)
}

func TestTimeToLimitFollowsTheTrend(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	f := healthy()
	var v *engine.Verdicts
	for i := range 100 { // 10 kPa/s down from 250 kPa for 10 s: 150 kPa
		f.Set(frame.InletPressure, 250e3-1e3*float64(i+1))
		v = r.feed(f, tick)
	}
	got := v.Rules[engine.InletLow]
	// From 150 kPa to 20 kPa at 10 kPa/s is 13 s.
	require.InDelta(t, 13, got.TimeToS, 1.3)
	require.LessOrEqual(t, got.EarliestS, got.TimeToS)
	require.GreaterOrEqual(t, got.LatestS, got.TimeToS)
	require.InDelta(t, 130e3, got.Headroom, 1)
	require.InDelta(t, 0.65, got.Share, 1e-9)
}

func TestFirstOutIsTheEarliestCondition(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	f := healthy()
	f.Set(frame.WaterTemp, 340) // 3 s delay
	r.feed(f, 2500*time.Millisecond)
	f.Set(frame.InletPressure, 60e3) // 1 s delay: raised later than the heat
	v := r.feed(f, 3*time.Second)
	require.True(t, v.Alarms[engine.ActAlarm(engine.WaterHot)].FirstOut, "the first stage stands under the second")
	require.False(t, v.Alarms[engine.WarnAlarm(engine.InletLow)].FirstOut)
	tot := r.s.Totals()
	require.True(t, tot.HasFirst)
	require.Equal(t, engine.ActAlarm(engine.WaterHot), tot.FirstOut)
}

// TestALostCalibrationRaisesTheSensorsAlarm and the reading is still judged; one
// that is only old asks for service and no more.
func TestALostCalibrationRaisesTheSensorsAlarm(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	f := healthy()
	f.Samples[frame.InletPressure].Status = frame.Service
	v := r.feed(f, 10*time.Second)
	require.False(t, v.Alarms[engine.SensorAlarm(frame.InletPressure)].Active)
	f.Samples[frame.InletPressure].Status = frame.Uncorrected
	v = r.feed(f, 10*time.Second)
	require.True(t, v.Alarms[engine.SensorAlarm(frame.InletPressure)].Active)
	require.Equal(t, engine.Watching, v.Rules[engine.InletLow].Judge)
	f.Samples[frame.InletPressure].Value = -50e3
	v = r.feed(f, 10*time.Second)
	require.True(t, v.Alarms[engine.ActAlarm(engine.InletLow)].Active, "it is no reason to go blind")
	v = r.feed(healthy(), 10*time.Second)
	require.False(t, v.Alarms[engine.SensorAlarm(frame.InletPressure)].Active)
}

// TestChannelsThatAreOnlyShown change no verdict, whatever they read.
func TestChannelsThatAreOnlyShown(t *testing.T) {
	calm, wild := newRig(t, fixture()), newRig(t, fixture())
	calm.running()
	wild.running()
	f, g := healthy(), healthy()
	for c := range frame.NumChannels {
		if engine.OnlyShown(c) {
			_, hi := c.Believable()
			g.Set(c, 0.99*hi)
		}
	}
	for range 100 {
		v, w := calm.feed(f, tick), wild.feed(g, tick)
		require.Equal(t, v.Rules, w.Rules)
		require.Equal(t, v.Level, w.Level)
	}
	require.True(t, engine.OnlyShown(frame.MotorTemp) && engine.OnlyShown(frame.Vibration2))
	require.False(t, engine.OnlyShown(frame.Vibration))
}

// A current that froze at its work tells for ever that the motor works. It is
// found out where it alone tells of the pump too, and stays so until it moves.
func TestAFrozenChannelThatTellsOfThePumpStaysStuck(t *testing.T) {
	for _, c := range []struct {
		name  string
		noise float64 // MinNoise
		left  []frame.Channel
		want  machine.State
	}{
		{"four sensors", 0, four, machine.Unknown},
		{"four sensors, the last bits move", 0.01, four, machine.Unknown},
		{"and an outlet gauge", 0, with(frame.OutletPressure), machine.Running},
	} {
		cfg := only(fixture(), c.left...)
		cfg.Signals[frame.MotorCurrent].StuckAfter = 30 * time.Second
		cfg.Signals[frame.MotorCurrent].MinNoise = c.noise
		r := newRig(t, cfg)
		r.feed(stopped(), 3*time.Second)
		r.feedNoisy(healthy(), frame.MotorCurrent, 0.1, 20*time.Second)
		frozen := 0
		for range 60 {
			if r.feedNoisy(healthy(), frame.MotorCurrent, c.noise/10, time.Second).Samples[frame.MotorCurrent].Status == frame.Stuck {
				frozen++
			}
		}
		require.GreaterOrEqual(t, frozen, 20, c.name)
		v := r.feed(healthy(), tick)
		require.Equal(t, c.want, v.Machine, c.name)
		require.True(t, v.Alarms[engine.SensorAlarm(frame.MotorCurrent)].Active, c.name)
		v = r.feedNoisy(healthy(), frame.MotorCurrent, 0.5, 10*time.Second)
		require.Equal(t, frame.Good, v.Samples[frame.MotorCurrent].Status, "%s: it moves again", c.name)
		require.Equal(t, machine.Running, v.Machine, c.name)
		require.EqualValues(t, 1, r.s.Totals().Starts, c.name)
	}
}

// A pump full of air, or an inlet blocked behind its gauge: pressure at the
// inlet, trigger open, and nothing comes.
func TestAnOpenTriggerIsNoClosedOutlet(t *testing.T) {
	for _, fitted := range [][]frame.Channel{with(frame.Trigger), with(frame.Trigger, frame.OutletPressure)} {
		r := newRig(t, only(fixture(), fitted...))
		r.running()
		f := set(set(set(healthy(), frame.Flow, 0), frame.OutletPressure, 240e3), frame.MotorCurrent, 7)
		v := r.feed(f, 5*time.Second)
		require.Equal(t, machine.Running, v.Machine)
		require.True(t, v.Alarms[engine.ActAlarm(engine.NoFlow)].Active, "running dry, long before 60 s of bypass")
	}
}
