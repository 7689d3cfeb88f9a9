package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

func shut() frame.Frame {
	f := healthy()
	f.Set(frame.InletPressure, -85e3)
	f.Set(frame.Flow, 0)
	f.Set(frame.OutletPressure, 0)
	f.Set(frame.MotorCurrent, 7)
	return f
}

// calling lists the alarms that ask for a person.
func calling(v *engine.Verdicts) (out []string) {
	for i := range v.Alarms {
		switch v.Alarms[i].Phase {
		case alarm.Unacknowledged, alarm.Returned, alarm.LatchedUnacknowledged:
			out = append(out, engine.AlarmID(i).String())
		}
	}
	return out
}

func TestOneFaultIsOneAlarmWithItsConsequencesUnderIt(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	v := r.feed(shut(), 10*time.Second)
	require.Equal(t, []string{"inlet_low.act", "no_flow.act"}, calling(v), "a dry run calls whatever stands already")
	for _, id := range []engine.AlarmID{
		engine.WarnAlarm(engine.InletLow), engine.ActAlarm(engine.NPSHMargin),
		engine.ActAlarm(engine.FlowShort), engine.WarnAlarm(engine.Cavitation),
	} {
		a := v.Alarms[id]
		require.True(t, a.Active, id.String())
		require.Equal(t, alarm.Suppressed, a.Phase, id.String())
		require.Equal(t, engine.ActAlarm(engine.InletLow), a.Under, id.String())
	}
	require.Equal(t, 2, v.Calling)
	require.EqualValues(t, 2, r.s.Totals().Annunciated)
}

func TestNothingUrgentHidesUnderSomethingMild(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	f := healthy()
	f.Set(frame.InletPressure, 60e3) // a warning
	f.Set(frame.Flow, 0)             // and no water at all
	f.Set(frame.OutletPressure, 0)
	v := r.feed(f, 1800*time.Millisecond)
	require.Equal(t, []string{"inlet_low.warn", "no_flow.act"}, calling(v))

	r = newRig(t, fixture())
	r.running()
	f = healthy()
	f.Set(frame.InletPressure, 60e3)
	f.Set(frame.WaterTemp, 368.15) // 95 °C: boiling near
	v = r.feed(f, 10*time.Second)
	require.Contains(t, calling(v), "water_hot.act")
	require.Contains(t, calling(v), "inlet_low.warn", "cold water would not have too much pressure either")
}

func TestConsequenceThatOutlivesItsCauseCalls(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	r.feed(shut(), 10*time.Second)
	f := healthy()
	f.Set(frame.Flow, 6e-3/60) // 79 %: still short, at good pressure
	f.Set(frame.OutletPressure, 9e6*6*6/7.6/7.6)
	v := r.feed(f, 10*time.Second)
	require.Contains(t, calling(v), "flow_short.warn")
}

func TestLevelsWithoutAcknowledgement(t *testing.T) {
	cfg := fixture()
	cfg.QuietReturn = engine.Warning
	r := newRig(t, cfg)
	r.running()
	f := healthy()
	f.Set(frame.InletPressure, 60e3)
	r.feed(f, 5*time.Second)
	v := r.feed(healthy(), 5*time.Second)
	require.Empty(t, calling(v), "a warning that is gone is gone")

	f.Set(frame.InletPressure, 10e3)
	r.feed(f, 5*time.Second)
	v = r.feed(healthy(), 5*time.Second)
	require.Equal(t, []string{"inlet_low.act"}, calling(v), "what asked to act wants to be known")
	did, ok := r.e.Do(&r.s, engine.ActAlarm(engine.InletLow), alarm.Acknowledge, r.now, 0)
	require.True(t, ok)
	require.Equal(t, alarm.Normal, did.Phase)
	require.Empty(t, calling(r.feed(healthy(), time.Second)))
	_, ok = r.e.Do(&r.s, engine.ActAlarm(engine.InletLow), alarm.Acknowledge, r.now, 0)
	require.False(t, ok, "nothing is left to acknowledge")
}

func TestAcknowledgeTakesTheConsequencesAlong(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	r.feed(shut(), 10*time.Second)
	_, ok := r.e.Do(&r.s, engine.ActAlarm(engine.InletLow), alarm.Acknowledge, r.now, 0)
	require.True(t, ok)
	v := r.feed(shut(), time.Second)
	require.Equal(t, []string{"no_flow.act"}, calling(v), "running dry asks by itself")
	_, ok = r.e.Do(&r.s, engine.ActAlarm(engine.NoFlow), alarm.Acknowledge, r.now, 0)
	require.True(t, ok)
	v = r.feed(shut(), time.Second)
	require.Empty(t, calling(v))
	require.Equal(t, engine.Act, v.Level, "acknowledging hides nothing")
}

// What an act says it changed is what changed: nobody's tap is told of short.
func TestAnActNamesEveryAlarmThatItChanged(t *testing.T) {
	for _, acts := range [][]alarm.Act{{alarm.Acknowledge}, {alarm.Shelve, alarm.Unshelve}, {alarm.TakeOut, alarm.PutBack}} {
		r := newRig(t, fixture())
		r.running()
		r.feed(shut(), 10*time.Second)
		root := engine.ActAlarm(engine.InletLow)
		for _, act := range acts {
			before := r.s.Keep()
			did, ok := r.e.Do(&r.s, root, act, r.now, time.Minute)
			require.True(t, ok, act)
			after := r.s.Keep()
			var changed []string
			for i := range after {
				if id := engine.AlarmID(i); id != root && before[i] != after[i] {
					changed = append(changed, id.String())
				}
			}
			require.Equal(t, changed, did.Names(), act)
			require.Equal(t, act != alarm.TakeOut && act != alarm.PutBack, len(changed) > 0, "%v: only taking out stands alone", act)
		}
	}
}

func TestLatchStaysUntilReset(t *testing.T) {
	cfg := fixture()
	cfg.Rules[engine.NoFlow].Latch = true
	r := newRig(t, cfg)
	r.running()
	r.feed(shut(), 5*time.Second)
	id := engine.ActAlarm(engine.NoFlow)
	_, ok := r.e.Do(&r.s, id, alarm.Reset, r.now, 0)
	require.False(t, ok, "the condition stands")
	v := r.feed(healthy(), 10*time.Second)
	require.Equal(t, alarm.LatchedUnacknowledged, v.Alarms[id].Phase)
	_, ok = r.e.Do(&r.s, id, alarm.Acknowledge, r.now, 0)
	require.True(t, ok)
	_, ok = r.e.Do(&r.s, id, alarm.Reset, r.now, 0)
	require.True(t, ok)
	require.Equal(t, alarm.Normal, r.feed(healthy(), tick).Alarms[id].Phase)
}

func TestShelvedAlarmComesBack(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	f := healthy()
	f.Set(frame.InletPressure, 60e3)
	r.feed(f, 5*time.Second)
	id := engine.WarnAlarm(engine.InletLow)
	_, ok := r.e.Do(&r.s, id, alarm.Shelve, r.now, time.Minute)
	require.True(t, ok)
	v := r.feed(f, 59*time.Second)
	require.Equal(t, alarm.Shelved, v.Alarms[id].Phase)
	require.Equal(t, engine.Normal, v.Level, "a shelved alarm doesn't colour the screen")
	v = r.feed(f, 2*time.Second)
	require.Equal(t, alarm.Unacknowledged, v.Alarms[id].Phase)
}

func TestChatteringAlarmIsHeld(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	low := healthy()
	low.Set(frame.InletPressure, 60e3)
	for range 12 {
		r.feed(low, 1500*time.Millisecond)
		r.feed(healthy(), 2500*time.Millisecond)
	}
	raised := 0
	for _, tr := range r.log {
		if tr.Raised && tr.Alarm == engine.WarnAlarm(engine.InletLow) {
			raised++
		}
	}
	require.Equal(t, alarm.ChatterCount, raised, "after the third it stands")
	v := r.feed(low, time.Second)
	require.True(t, v.Alarms[engine.WarnAlarm(engine.InletLow)].Chatter)
	v = r.feed(healthy(), 90*time.Second)
	require.False(t, v.Alarms[engine.WarnAlarm(engine.InletLow)].Active)
}

func TestDeadBusIsOneAlarm(t *testing.T) {
	cfg := fixture()
	for c := range cfg.Signals {
		cfg.Signals[c].Bus = 1
	}
	r := newRig(t, cfg)
	r.running()
	f := healthy()
	for _, c := range []frame.Channel{frame.InletPressure, frame.WaterTemp, frame.OutletPressure, frame.AmbientTemp} {
		f.Samples[c].Status = frame.Failed
	}
	v := r.feed(f, 5*time.Second)
	require.Equal(t, []string{"sensor.inlet_pressure"}, calling(v))
}

// A restart in any state loses nothing: what called calls, what was shelved
// asks again, and what stood stands until its rule has judged again.
func TestRestartKeepsEveryAlarm(t *testing.T) {
	e, err := engine.New(fixture())
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		var s engine.State
		now := time.Duration(0)
		for range rapid.IntRange(1, 6).Draw(t, "blocks") {
			f := rapid.SampledFrom([]frame.Frame{healthy(), shut(), stopped()}).Draw(t, "frame")
			for range rapid.IntRange(1, 60).Draw(t, "ticks") {
				now += tick
				e.Step(&s, &f, now)
			}
			id := engine.AlarmID(rapid.IntRange(0, engine.NumAlarms-1).Draw(t, "alarm"))
			e.Do(&s, id, alarm.Act(rapid.IntRange(0, int(alarm.NumActs)-1).Draw(t, "act")), now, time.Hour)
		}
		kept := s.Keep()
		var again engine.State
		again.Restore(&kept)
		for i := range kept {
			kept[i].Life.Shelved, kept[i].Life.ShelfLeft = false, 0
		}
		require.Equal(t, kept, again.Keep())
		// Frames that no rule can judge from must not clear anything.
		blind := healthy()
		for c := range blind.Samples {
			blind.Samples[c].Status = frame.Missing
		}
		v := e.Step(&again, &blind, 1)
		for i := range kept {
			if kept[i].Active && kept[i].Life.Base == alarm.Unacknowledged {
				if _, sensor := engine.AlarmID(i).Channel(); !sensor {
					require.NotEqual(t, alarm.Normal, v.Alarms[i].Phase, engine.AlarmID(i).String())
				}
			}
		}
	})
}

// Shelved for a shift, switched off for the night: the next morning it asks.
func TestAShelfDoesNotOutliveTheNight(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	v := r.feed(shut(), 10*time.Second)
	require.Contains(t, calling(v), "inlet_low.act")
	id, ok := engine.AlarmByName("inlet_low.act")
	require.True(t, ok)
	_, ok = r.e.Do(&r.s, id, alarm.Shelve, r.now, 8*time.Hour)
	require.True(t, ok)
	require.NotContains(t, calling(r.feed(shut(), time.Second)), "inlet_low.act")
	kept := r.s.Keep()
	again := newRig(t, fixture())
	again.s.Restore(&kept)
	require.True(t, kept[id].Life.Shelved, "what was kept stays as it was")
	require.Contains(t, calling(again.feed(shut(), time.Second)), "inlet_low.act")
}

func TestConsequencesGoQuietlyWithTheirCause(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	r.feed(shut(), 10*time.Second)
	v := r.feed(healthy(), 20*time.Second)
	require.Equal(t, []string{"inlet_low.act", "no_flow.act"}, calling(v), "the cause and the dry run ask to be known")
	require.EqualValues(t, 2, r.s.Totals().Annunciated)
}

func TestShelvingTakesTheConsequencesAlong(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	r.feed(shut(), 10*time.Second)
	_, ok := r.e.Do(&r.s, engine.ActAlarm(engine.InletLow), alarm.Shelve, r.now, time.Minute)
	require.True(t, ok)
	v := r.feed(shut(), 30*time.Second)
	require.Equal(t, []string{"no_flow.act"}, calling(v), "who puts a gauge aside has not put a dry run aside")
	require.Equal(t, alarm.Shelved, v.Alarms[engine.ActAlarm(engine.NPSHMargin)].Phase)
	_, ok = r.e.Do(&r.s, engine.ActAlarm(engine.InletLow), alarm.Unshelve, r.now, 0)
	require.True(t, ok)
	v = r.feed(shut(), time.Second)
	require.Equal(t, []string{"inlet_low.act", "no_flow.act"}, calling(v), "and back as one")
}

// A pump that works on with an acknowledged low inlet, and later runs dry: the
// person knows of the first and not of the second.
func TestWhatComesAfterItsCauseWasAcknowledgedCalls(t *testing.T) {
	low := healthy()
	low.Set(frame.InletPressure, 10e3)
	short := low
	short.Set(frame.Flow, 5e-3/60)
	dry := low
	dry.Set(frame.Flow, 0)
	dry.Set(frame.OutletPressure, 0)
	for _, c := range []struct {
		name         string
		acknowledged bool
		wait         time.Duration
		then         frame.Frame
		alarm        engine.AlarmID
		calls        bool
	}{
		{"dry run at once", false, time.Second, dry, engine.ActAlarm(engine.NoFlow), true},
		{"dry run ten minutes after the acknowledgement", true, 10 * time.Minute, dry, engine.ActAlarm(engine.NoFlow), true},
		{"too little water at once", false, time.Second, short, engine.ActAlarm(engine.FlowShort), false},
		{"too little water after the acknowledgement", true, 10 * time.Second, short, engine.ActAlarm(engine.FlowShort), true},
		{"too little water long after", false, 2 * time.Minute, short, engine.ActAlarm(engine.FlowShort), true},
		{"the first stage needs no call", true, 10 * time.Second, short, engine.WarnAlarm(engine.FlowShort), false},
	} {
		r := newRig(t, fixture())
		r.running()
		r.feed(low, 3*time.Second)
		if c.acknowledged {
			_, ok := r.e.Do(&r.s, engine.ActAlarm(engine.InletLow), alarm.Acknowledge, r.now, 0)
			require.True(t, ok, c.name)
		}
		before := r.feed(low, c.wait).Calling
		v := r.feed(c.then, 10*time.Second)
		require.True(t, v.Alarms[c.alarm].Active, c.name)
		require.Equal(t, c.calls, alarm.Unacknowledged == v.Alarms[c.alarm].Phase, "%s: %s", c.name, v.Alarms[c.alarm].Phase)
		if c.calls {
			require.False(t, v.Alarms[c.alarm].HasCause, "%s: a row and a call of its own", c.name)
			require.Greater(t, v.Calling, before, c.name)
			v = r.feed(low, 10*time.Second) // the flow returns first
			require.Equal(t, alarm.Returned, v.Alarms[c.alarm].Phase, "%s: it leaves its trace", c.name)
		}
	}
}
