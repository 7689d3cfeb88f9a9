package review

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store"
	"headroom/rules/alarm"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// want is a sentence that must stand in an account: its kind, a piece of its
// text, when it must be, and where the script gives one an amount, by its place
// among the sentence's amounts. Nothing here is taken from what the account says:
// source tells where it comes from.
type want struct {
	kind         Kind
	text         string
	from, to     time.Duration
	nth          int // from 1; 0 asks for no amount
	value, off   float64
	ratio, ratOf float64 // of a change: after over before; 0 asks for none
	source       string
}

func (w *want) met(s *Sentence) bool {
	text := strings.ToLower(s.Text(units.SI))
	if s.Kind != w.kind || !strings.Contains(text, strings.ToLower(w.text)) || s.From < w.from || s.From > w.to {
		return false
	}
	var amounts []float64
	for i := range s.Parts {
		if s.Parts[i].Words == "" {
			amounts = append(amounts, s.Parts[i].Value)
		}
	}
	if w.nth > 0 && (len(amounts) < w.nth || math.Abs(amounts[w.nth-1]-w.value) > w.off) {
		return false
	}
	if w.ratio == 0 {
		return true
	}
	n := len(amounts) // a change ends with: before, after, how long
	return n >= 3 && math.Abs(amounts[n-2]/amounts[n-3]-w.ratio) <= w.ratOf
}

// at makes a time of seconds in a script.
func at(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// scripted is a job whose faults are known by its script.
type scripted struct {
	name string
	script
	wants []want
	// never are pieces of text that would be false.
	never []string
}

func scriptedRuns() []scripted {
	const s = time.Second
	return []scripted{
		{"a kinked hose", script{Scenario: "kinked_hose", Acts: []deed{
			{At: 100 * s, Alarm: "inlet_low.act", Act: alarm.Acknowledge, Who: "Kim"}, {At: 130 * s, Alarm: "inlet_low.act", Act: alarm.Reset, Who: "Kim"},
		}}, []want{
			{kind: KindSwitch, text: "switched on", from: at(20), to: at(20.2), source: "script: 0:20"},
			{kind: KindStart, text: "began to turn", from: at(20), to: at(21), source: "script: 0:20, a motor starts within a second"},
			{kind: KindConditions, text: "inlet pressure", from: at(23), to: at(35), nth: 1, value: 258e3, off: 5e3, source: "script's comment: 258 kPa"},
			// (1/(1-x) - 1)^2 * 101 Pa is a quarter of a tenth of 258 kPa at
			// x = 88.9 %, of 98.6 % in 20 s: 78.0 s.
			{kind: KindChange, text: "inlet pressure fell", from: at(77.5), to: at(78.5), nth: 1, value: 258e3, off: 5e3, source: "script's comment, worked out"},
			{kind: KindChange, text: "flow fell", from: at(78), to: at(80.5), ratio: 0.85, ratOf: 0.04, source: "script's comment: 85 %"},
			{kind: KindAlarm, text: "“Pump is starving”", from: at(79), to: at(85), source: "script: between 1:19 and 1:25"},
			{kind: KindConsequence, text: "Pump is cavitating hard", from: at(79), to: at(85), source: "script: under inlet_low.act"},
			// From 1:20.5 to 1:25 until 2:02 (2 s after 2:00) to 2:06.
			{kind: KindRanOn, text: "“Pump is starving”", from: at(79), to: at(85), nth: 1, value: 41.25, off: 4.25, source: "script"},
			{kind: KindAct, text: "Kim acknowledged “Pump is starving”", from: at(99.9), to: at(100), nth: 1, value: 18, off: 3, source: "100 s less 79 to 85 s"},
			{kind: KindCleared, text: "“Pump is starving” was gone", from: at(122), to: at(126), source: "script: 2:00, 2 s of delay, by 2:06"},
			{kind: KindAct, text: "Kim reset “Pump is starving”", from: at(129.9), to: at(130), source: "the act"},
			{kind: KindStop, from: at(149.9), to: at(150), source: "script: end"},
			{kind: KindExposure, text: "below the margin that the pump needs", from: at(20), to: at(21), source: "script: npsh_margin.act"},
		}, []string{"dry", "could not be trusted", "No frames", "clock was put", "switched off"}},
		{"a burst hose", script{Scenario: "burst_hose", HoldOff: 5 * s}, []want{
			{kind: KindChange, text: "outlet pressure fell", from: at(59.5), to: at(60.5), source: "script: 1:00"},
			{kind: KindAlarm, text: "Pressure has collapsed", from: at(62), to: at(65), source: "script: between 1:02 and 1:05"},
			// The second amount is when it was switched off: 75 s less 62 to 66 s.
			{kind: KindRanOn, text: "It was switched off", from: at(62), to: at(66), nth: 2, value: 11, off: 2.2, source: "script: 1:15"},
			{kind: KindSwitch, text: "switched off", from: at(75), to: at(75.2), source: "script: 1:15"},
			{kind: KindStop, text: "The pump stopped", from: at(75), to: at(82), source: "script: off at 1:15, all gone by 1:22"},
		}, []string{"Inlet pressure fell"}},
		{"a held trigger", script{Scenario: "trigger_held_off"}, []want{
			{kind: KindState, text: "The outlet was closed", from: at(61.5), to: at(63), nth: 1, value: 208, off: 2, source: "script: counts 2 s after 1:00, until 4:30"},
			// 0.09 K/s make 2 K in 22 s; the thermometer is slow.
			{kind: KindChange, text: "water temperature rose", from: at(60), to: at(90), source: "script's comment"},
			{kind: KindAlarm, text: "Outlet has been closed for a while", from: at(121.5), to: at(124), source: "script"},
			{kind: KindRanOn, text: "until its condition was gone", from: at(241.5), to: at(244), nth: 1, value: 28.75, off: 2.75, source: "script: 4:30 to 4:33"},
		}, []string{"Inlet pressure fell", "and then stopped", "switched off"}},
		{"a stuck sensor", script{Scenario: "sensor_stuck"}, []want{
			{kind: KindSensor, text: "Motor current could not be trusted: reading is stuck", from: at(92), to: at(95), source: "script: between 1:32 and 1:35"},
		}, []string{"Motor current fell", "Motor current rose", "Alarm"}},
		{"the power", script{Scenario: "power_cut", HoldOff: 90 * s}, []want{
			{kind: KindChange, text: "motor current fell", from: at(59.5), to: at(60.5), ratio: 0, source: "script: 1:00"},
			{kind: KindAlarm, text: "no power comes", from: at(60.8), to: at(61.5), source: "script"},
			// It runs down after 1:00 and starts after 1:30.
			{kind: KindState, text: "was started again", from: at(60), to: at(63), nth: 1, value: 29, off: 2, source: "script: 1:00 to 1:30"},
		}, []string{"switched off"}},
	}
}

// TestScriptedRuns: the account names what the script did, in its order.
func TestScriptedRuns(t *testing.T) {
	for _, x := range scriptedRuns() {
		t.Run(x.name, func(t *testing.T) {
			r := read(t, play(t, x.script))
			a := latest(t, r)
			requireWants(t, a, x.wants)
			for i := range a.Sentences {
				for _, n := range x.never {
					require.NotContains(t, a.Sentences[i].Text(units.SI), n)
				}
			}
			requireTrue(t, r, a)
		})
	}
}

// requireWants finds the wanted sentences, each behind the one before.
func requireWants(t *testing.T, a *Account, wants []want) {
	t.Helper()
	at := 0
	for i := range wants {
		w := &wants[i]
		for at < len(a.Sentences) && !w.met(&a.Sentences[at]) {
			at++
		}
		require.Less(t, at, len(a.Sentences), "no %s with %q from %v to %v (%s); the account is\n%s", w.kind, w.text, w.from, w.to, w.source, plainText(t, a))
	}
}

func plainText(t testing.TB, a *Account) string {
	var b bytes.Buffer
	require.NoError(t, a.WriteText(&b, TextOptions{Units: units.SI}))
	return b.String()
}

// requireTrue recomputes every figure, tells again and compares.
func requireTrue(t testing.TB, r Record, a *Account) {
	t.Helper()
	differs, err := Verify(ctx, r, a)
	require.NoError(t, err)
	require.Empty(t, differs)
	again, err := Tell(ctx, r, a.Head.ID, Options{})
	require.NoError(t, err)
	require.Equal(t, a, again, "the same record gives the same account")
	for _, list := range [][]Sentence{a.Sentences, a.CannotTell} {
		for i := range list {
			require.NotEmpty(t, list[i].Evidence, "every sentence rests on something: %q", list[i].Text(units.SI))
		}
	}
}

// TestVerifyFindsALie: changed figures, invented alarms and moved times show.
func TestVerifyFindsALie(t *testing.T) {
	r := read(t, play(t, script{Scenario: "kinked_hose"}))
	for name, spoil := range map[string]func(s *Sentence) bool{
		"another value": func(s *Sentence) bool {
			e := &s.Evidence[0]
			if e.Figure == Median {
				e.Value++
				s.Parts[1].Value = e.Value
			}
			return e.Figure == Median
		},
		"another text": func(s *Sentence) bool {
			for i := range s.Parts {
				if s.Parts[i].Evidence > 0 {
					s.Parts[i].Value++
					return true
				}
			}
			return false
		},
		"another alarm": func(s *Sentence) bool {
			ok := s.Evidence[0].Basis == OnAlarm
			s.Evidence[0].Name += "x"
			return ok
		},
		"another time": func(s *Sentence) bool {
			e := &s.Evidence[0]
			e.From++
			return e.Basis == OnFrames && e.To > e.From
		},
	} {
		t.Run(name, func(t *testing.T) {
			tried := false
			for i := range latest(t, r).Sentences {
				a := latest(t, r)
				if !spoil(&a.Sentences[i]) {
					continue
				}
				tried = true
				differs, err := Verify(ctx, r, a)
				require.NoError(t, err)
				require.NotEmpty(t, differs, "%q", a.Sentences[i].Text(units.SI))
				break
			}
			require.True(t, tried)
		})
	}
}

// TestWhatCannotBeTold: what a record lacks stands there, and not otherwise.
func TestWhatCannotBeTold(t *testing.T) {
	all := func(sc script) string {
		a := latest(t, read(t, play(t, sc)))
		var b strings.Builder
		for i := range a.CannotTell {
			b.WriteString(a.CannotTell[i].Text(units.SI) + "\n")
		}
		return b.String()
	}
	whole := all(script{Scenario: "normal_job"})
	require.NotContains(t, whole, "no frames were recorded")
	require.NotContains(t, whole, "No outlet pressure")
	require.NotContains(t, whole, "names are as they typed")
	require.Contains(t, whole, "which nothing checked")
	require.Contains(t, whole, "Why anything happened")

	lacking := all(script{Scenario: "four_sensors", Unset: true, Acts: []deed{{At: 90 * time.Second, Alarm: "inlet_low.warn", Act: alarm.Acknowledge, Who: "Kim"}},
		Spoil: func(at time.Duration, f *frame.Frame) bool {
			if at > 40*time.Second && at < 45*time.Second {
				f.Samples[frame.Flow].Status = frame.Failed
			}
			return at < 50*time.Second || at > 62*time.Second
		}})
	require.Contains(t, lacking, "clock was not set")
	require.Contains(t, lacking, "No outlet pressure was measured")
	require.Contains(t, lacking, "names are as they typed")
	require.Contains(t, lacking, "For 12 s no frames were recorded")
	// 49 readings of a tenth of a second each.
	require.Contains(t, lacking, "Flow is not known for 4.9 s in all (sensor failed)")
}

// TestAWholeBoot is told without a run's sums, and a part of it as asked.
func TestAWholeBoot(t *testing.T) {
	r := read(t, play(t, script{Scenario: "kinked_hose"}))
	a, err := Tell(ctx, r, RunID{Boot: 1}, Options{})
	require.NoError(t, err)
	requireWants(t, a, []want{
		{kind: KindStart, text: "account", from: 0, to: at(1), source: "the first frame"},
		{kind: KindAlarm, text: "starving", from: at(79), to: at(85), source: "script"},
	})
	differs, err := Verify(ctx, r, a)
	require.NoError(t, err)
	require.Empty(t, differs)
	a, err = Tell(ctx, r, RunID{Boot: 1}, Options{From: 30 * time.Second, To: 60 * time.Second})
	require.NoError(t, err)
	for i := range a.Sentences {
		require.NotEqual(t, KindAlarm, a.Sentences[i].Kind)
	}
	_, err = Tell(ctx, r, RunID{Boot: 1}, Options{From: 60 * time.Second, To: 30 * time.Second})
	require.Error(t, err)
	_, err = Tell(ctx, r, RunID{Boot: 9, N: 1}, Options{})
	require.ErrorContains(t, err, "no boot 9")
	_, err = Tell(ctx, r, RunID{Boot: 1, N: 9}, Options{})
	require.ErrorIs(t, err, store.ErrNoRun)
}

// TestUnits: the same account reads in either system.
func TestUnits(t *testing.T) {
	a := latest(t, read(t, play(t, script{Scenario: "kinked_hose"})))
	var si, us bytes.Buffer
	require.NoError(t, a.WriteText(&si, TextOptions{Units: units.SI}))
	require.NoError(t, a.WriteText(&us, TextOptions{Units: units.US}))
	require.Contains(t, si.String(), "258 kPa")
	require.Contains(t, us.String(), "37.4 psi")
	require.NotContains(t, us.String(), "kPa")
	require.NotContains(t, si.String(), "psi")
}

// TestNoChangeAcrossAHole: the kink comes while no frames are recorded. What lay
// before the hole is no level for what lies behind it, as nobody saw the way.
func TestNoChangeAcrossAHole(t *testing.T) {
	a := latest(t, read(t, play(t, script{Scenario: "kinked_hose", Spoil: func(now time.Duration, _ *frame.Frame) bool {
		return now < at(70) || now > at(90)
	}})))
	requireWants(t, a, []want{
		{kind: KindGap, text: "No frames", from: at(69), to: at(70), nth: 1, value: 20.1, off: 0.11, source: "what was left out"},
		{kind: KindAlarm, text: "starving", from: at(90), to: at(93), source: "the kink stands, and its delay is 1 s"},
	})
	for i := range a.Sentences {
		s := &a.Sentences[i]
		require.False(t, s.Kind == KindChange && s.From < at(90), s.Text(units.SI))
		for _, e := range s.Evidence {
			require.False(t, e.Figure == Median && e.From < at(70) && e.To > at(90))
		}
	}
}
