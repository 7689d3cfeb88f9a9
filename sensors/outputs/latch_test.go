package outputs

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

type act struct {
	at   int // seconds
	in   LatchInput
	want LatchOutput
	why  string
}

func TestLatchStories(t *testing.T) {
	const s = time.Second
	stop, go_ := LatchOutput{}, LatchOutput{Run: true}
	stories := map[string][]act{
		"power comes back": {
			{0, LatchInput{}, stop, "stopped until a person says so"},
			{1, LatchInput{Reset: true}, go_, "reset"},
			{2, LatchInput{}, go_, "stays"},
		},
		"a button that hangs resets nothing": {
			{0, LatchInput{Reset: true}, stop, "down since before the start"},
			{1, LatchInput{Reset: true}, stop, "still down"},
			{2, LatchInput{}, stop, "let go"},
			{3, LatchInput{Reset: true}, go_, "pressed"},
			{4, LatchInput{Reset: true, Demand: true}, stop, "a stop is a stop"},
			{5, LatchInput{Reset: true}, stop, "the demand is gone and the button hangs"},
		},
		"a limit that comes back starts nothing": {
			{0, LatchInput{}, stop, ""},
			{1, LatchInput{Reset: true}, go_, ""},
			{2, LatchInput{Demand: true}, stop, "stop"},
			{3, LatchInput{Demand: true, Reset: true}, LatchOutput{ResetRefused: true}, "the reason stands"},
			{4, LatchInput{}, stop, "the reason is gone"},
			{5, LatchInput{Reset: true}, go_, "a person resets"},
		},
		"hold to override": {
			{0, LatchInput{}, stop, ""},
			{1, LatchInput{Reset: true}, go_, ""},
			{2, LatchInput{Hold: true}, go_, "pressed before the stop"},
			{4, LatchInput{Hold: true, Demand: true}, LatchOutput{true, true, 3 * s, false}, "2 of 5 s are used"},
			{6, LatchInput{Hold: true, Demand: true}, LatchOutput{true, true, 1 * s, false}, ""},
			{7, LatchInput{Hold: true, Demand: true}, stop, "the limit"},
			{8, LatchInput{Hold: true}, stop, "holding starts nothing"},
			{9, LatchInput{Demand: true}, stop, ""},
			{10, LatchInput{Hold: true, Demand: true}, stop, "nor does a new press"},
		},
		"letting go stops": {
			{0, LatchInput{}, stop, ""},
			{1, LatchInput{Reset: true}, go_, ""},
			{2, LatchInput{Hold: true}, go_, ""},
			{3, LatchInput{Hold: true, Demand: true}, LatchOutput{true, true, 4 * s, false}, ""},
			{4, LatchInput{Demand: true}, stop, "let go"},
		},
		"a taped button": {
			{0, LatchInput{Hold: true}, stop, "down since before the start"},
			{1, LatchInput{Hold: true, Reset: false}, stop, ""},
			{2, LatchInput{Hold: true, Reset: true}, go_, ""},
			{3, LatchInput{Hold: true, Demand: true}, stop, "never seen up, so never pressed"},
		},
		"the keeper dropped": {
			{0, LatchInput{}, stop, ""},
			{1, LatchInput{Reset: true}, go_, ""},
			{2, LatchInput{Dropped: true}, stop, "the tick stalled"},
			{3, LatchInput{}, stop, "it ticks again"},
			{4, LatchInput{Reset: true}, go_, "a person resets"},
		},
	}
	for name, story := range stories {
		l := Latch{Override: 5 * s}
		for _, a := range story {
			require.Equal(t, a.want, l.Step(a.in, time.Duration(a.at)*s), "%s, second %d: %s", name, a.at, a.why)
		}
	}
}

func TestLatchSettings(t *testing.T) {
	var l Latch
	l.AllowAtStart()
	require.True(t, l.Step(LatchInput{}, 0).Run)
	out := l.Step(LatchInput{Hold: true, Demand: true}, time.Second)
	require.Equal(t, DefaultOverride, out.OverrideLeft)
	never := Latch{Override: -1}
	never.AllowAtStart()
	never.Step(LatchInput{}, 0)
	require.False(t, never.Step(LatchInput{Hold: true, Demand: true}, time.Second).Run)
}

// Over random sequences of people, rules and stalls.
func TestLatchNeverStartsByItself(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		l := Latch{Override: 3 * time.Second}
		var before LatchInput
		before.Reset, before.Hold = true, true // as if both had hung before the start
		was, at, pressed := false, time.Duration(0), time.Duration(-1)
		for range rapid.IntRange(1, 60).Draw(rt, "steps") {
			in := LatchInput{
				Demand: rapid.Bool().Draw(rt, "demand"), Hold: rapid.Bool().Draw(rt, "hold"),
				Reset: rapid.Bool().Draw(rt, "reset"), Dropped: rapid.IntRange(0, 9).Draw(rt, "dropped") == 0,
			}
			at += time.Duration(rapid.IntRange(0, 2000).Draw(rt, "ms")) * time.Millisecond
			if in.Hold && !before.Hold {
				pressed = at
			}
			if !in.Hold {
				pressed = -1
			}
			out := l.Step(in, at)
			switch {
			case out.Run && !was && !(in.Reset && !before.Reset && !in.Demand && !in.Dropped):
				rt.Fatalf("started by %+v", in)
			case out.Run && in.Dropped:
				rt.Fatal("runs on though the keeper dropped")
			case out.Run && in.Demand && (pressed < 0 || at-pressed >= l.Override):
				rt.Fatalf("runs against a demand; pressed at %v, now %v", pressed, at)
			case out.Run && in.Demand && !out.Overriding:
				rt.Fatal("overrides in silence")
			case was && !in.Demand && !in.Dropped && !out.Run:
				rt.Fatal("stopped without a reason")
			}
			was, before = out.Run, in
		}
	})
}
