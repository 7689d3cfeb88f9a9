package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// fourChannels is the machine with the least that it takes.
func fourChannels(hold time.Duration) engine.Config {
	cfg := fixture()
	for c := range cfg.Signals {
		switch frame.Channel(c) {
		case frame.InletPressure, frame.WaterTemp, frame.Flow, frame.MotorCurrent:
		default:
			cfg.Signals[c].Fitted = false
		}
	}
	cfg.Rules[engine.Bypass].Warn, cfg.Rules[engine.Bypass].Act = 6, 12
	cfg.States.Hold = hold
	return cfg
}

// closedOutlet is the machine with its outlet closed: near the pressure of rest, no
// flow, and the current of a pump whose water goes round.
func closedOutlet() frame.Frame {
	f := healthy()
	f.Set(frame.InletPressure, 285e3)
	f.Set(frame.Flow, 0)
	f.Set(frame.MotorCurrent, 7)
	f.Set(frame.OutletPressure, 1e6)
	f.Set(frame.Trigger, 0)
	return f
}

// bypassAlarms feeds a closed outlet in which bad says what fails in a frame,
// and returns the frames until both stages were raised.
func bypassAlarms(t require.TestingT, cfg engine.Config, bad func(n int, f *frame.Frame)) (warn, act int) {
	e, err := engine.New(cfg)
	require.NoError(t, err)
	var s engine.State
	now := time.Duration(0)
	step := func(f frame.Frame) []engine.Transition {
		now += tick
		return e.Step(&s, &f, now).Transitions()
	}
	for range 30 {
		step(stopped())
	}
	for range 60 {
		step(healthy())
	}
	for n := 0; n < 400; n++ {
		f := closedOutlet()
		bad(n, &f)
		for _, tr := range step(f) {
			switch {
			case tr.Raised && tr.Alarm == engine.WarnAlarm(engine.Bypass):
				warn = n
			case tr.Raised && tr.Alarm == engine.ActAlarm(engine.Bypass):
				act = n
			}
		}
	}
	return warn, act
}

// A reading that fails says nothing of the outlet: n bad frames delay the
// bypass alarm by n frames at most, whatever fails.
func TestBadFramesDelayBypassByNoMoreThanThemselves(t *testing.T) {
	type alarms struct{ warn, act int }
	clean := map[bool]alarms{} // the hold changes nothing where nothing fails
	rapid.Check(t, func(t *rapid.T) {
		cfg := fourChannels(rapid.SampledFrom([]time.Duration{0, 500 * time.Millisecond, 3 * time.Second}).Draw(t, "hold"))
		fitted := rapid.Bool().Draw(t, "switch")
		cfg.Signals[frame.Trigger].Fitted = fitted
		if _, ok := clean[fitted]; !ok {
			w, a := bypassAlarms(t, cfg, func(int, *frame.Frame) {})
			require.Positive(t, w)
			require.Greater(t, a, w)
			clean[fitted] = alarms{w, a}
		}
		warn, act := clean[fitted].warn, clean[fitted].act
		fails := map[int]frame.Channel{}
		for range rapid.IntRange(1, 6).Draw(t, "spells") {
			from, n := rapid.IntRange(0, 150).Draw(t, "from"), rapid.IntRange(1, 40).Draw(t, "frames")
			c := rapid.SampledFrom([]frame.Channel{frame.Flow, frame.MotorCurrent, frame.InletPressure, frame.Trigger}).Draw(t, "channel")
			for i := from; i < from+n; i++ {
				fails[i] = c
			}
		}
		before := func(n int) (k int) {
			for i := range fails {
				if i <= n {
					k++
				}
			}
			return k
		}
		w, a := bypassAlarms(t, cfg, func(n int, f *frame.Frame) {
			if c, ok := fails[n]; ok {
				f.Samples[c] = frame.Sample{Status: frame.Failed}
			}
		})
		require.Positive(t, w)
		require.LessOrEqual(t, w, warn+before(w))
		require.Positive(t, a)
		require.LessOrEqual(t, a, act+before(a))
	})
}

// One reading in fifty fails, for as long as it takes: a loose plug.
func TestALoosePlugDoesNotHideBypass(t *testing.T) {
	for _, c := range []frame.Channel{frame.Flow, frame.MotorCurrent, frame.InletPressure} {
		warn, act := bypassAlarms(t, fourChannels(3*time.Second), func(n int, f *frame.Frame) {
			if n%50 == 0 {
				f.Samples[c] = frame.Sample{Status: frame.Failed}
			}
		})
		require.Positive(t, warn, c)
		require.Positive(t, act, c)
	}
}

// What shows an open outlet ends the time, and a spell in which nobody can see
// is neither bypass nor its end.
func TestOnlyAnOpenOutletEndsTheBypass(t *testing.T) {
	cfg := fourChannels(time.Second)
	cfg.Rules[engine.Bypass].Warn, cfg.Rules[engine.Bypass].Act = 60, 180
	r := newRig(t, cfg)
	r.running()
	before := r.feed(closedOutlet(), 20*time.Second).Rules[engine.Bypass]
	require.Equal(t, engine.Watching, before.Judge)
	blind := closedOutlet()
	blind.Samples[frame.Flow] = frame.Sample{Status: frame.Failed}
	v := r.feed(blind, 500*time.Millisecond)
	require.Equal(t, machine.Bypassing, v.Machine, "within the hold")
	v = r.feed(blind, 30*time.Second)
	require.Equal(t, engine.NoReading, v.Rules[engine.Bypass].Judge, "unknown is not OK")
	require.Equal(t, frame.Flow, v.Rules[engine.Bypass].Blame)
	after := r.feed(closedOutlet(), tick).Rules[engine.Bypass]
	require.Equal(t, engine.Watching, after.Judge)
	require.InDelta(t, before.Value+1, after.Value, 0.3, "the second that was held counts, the rest does not")
	r.feed(healthy(), tick)
	after = r.feed(closedOutlet(), 3*time.Second).Rules[engine.Bypass]
	require.Less(t, after.Value, 3.0, "water flowed")
}

// A standing alarm doesn't go back because nobody can see any more.
func TestABypassAlarmStandsWhereTheFlowMeterFails(t *testing.T) {
	r := newRig(t, fourChannels(time.Second))
	r.running()
	require.True(t, r.feed(closedOutlet(), 9*time.Second).Alarms[engine.WarnAlarm(engine.Bypass)].Active)
	blind := closedOutlet()
	blind.Samples[frame.Flow] = frame.Sample{Status: frame.Failed}
	require.True(t, r.feed(blind, time.Minute).Alarms[engine.WarnAlarm(engine.Bypass)].Active)
	require.False(t, r.feed(healthy(), time.Second).Alarms[engine.WarnAlarm(engine.Bypass)].Active)
}
