package alarm_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/alarm"
)

var delays = alarm.Delays{On: time.Second, Off: 2 * time.Second}

func TestDelaysToTheTick(t *testing.T) {
	var s alarm.State
	at := func(ms int, sig alarm.Signal) alarm.Change {
		return s.Step(sig, delays, time.Duration(ms)*time.Millisecond)
	}
	require.Equal(t, alarm.Same, at(0, alarm.Beyond))
	require.Equal(t, alarm.Same, at(900, alarm.Beyond))
	require.Equal(t, alarm.Same, at(950, alarm.Between), "the deadband restarts the timer")
	require.Equal(t, alarm.Same, at(1000, alarm.Beyond))
	require.Equal(t, alarm.Same, at(1999, alarm.Beyond))
	require.Equal(t, alarm.Raised, at(2000, alarm.Beyond))
	require.Equal(t, time.Second, s.Onset)
	require.Equal(t, alarm.Same, at(3000, alarm.Clear))
	require.Equal(t, alarm.Same, at(4000, alarm.Unjudged), "not knowing does not clear")
	require.Equal(t, alarm.Same, at(60000, alarm.Unjudged))
	require.True(t, s.Active)
	require.Equal(t, alarm.Same, at(61000, alarm.Clear))
	require.Equal(t, alarm.Cleared, at(63000, alarm.Clear))
	require.False(t, s.Active)
}

func TestOffClearsAtOnce(t *testing.T) {
	var s alarm.State
	s.Step(alarm.Beyond, alarm.Delays{}, 0)
	require.True(t, s.Active)
	require.Equal(t, alarm.Cleared, s.Step(alarm.Off, delays, 1))
}

func TestAGapRestartsTheDelay(t *testing.T) {
	var s alarm.State
	s.Step(alarm.Beyond, delays, 0)
	s.Break()
	require.Equal(t, alarm.Same, s.Step(alarm.Beyond, delays, time.Hour))
}

// Never raised without Beyond for the whole on-delay, never cleared without
// Clear for the whole off-delay or Off: against a model that keeps the history.
func TestAgainstHistory(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := alarm.Delays{On: time.Duration(rapid.IntRange(0, 5).Draw(t, "on")), Off: time.Duration(rapid.IntRange(0, 5).Draw(t, "off"))}
		var s alarm.State
		var history []alarm.Signal
		// held counts how many of the newest steps were sig without a break.
		held := func(sig alarm.Signal) time.Duration {
			n := 0
			for n < len(history) && history[len(history)-1-n] == sig {
				n++
			}
			return time.Duration(n - 1)
		}
		active, since := false, 0
		for i := range rapid.IntRange(1, 80).Draw(t, "steps") {
			sig := alarm.Signal(rapid.IntRange(0, 4).Draw(t, "signal"))
			history = append(history, sig)
			want := alarm.Same
			run := min(held(sig), time.Duration(i-since))
			switch {
			case sig == alarm.Off && active:
				want = alarm.Cleared
			case !active && sig == alarm.Beyond && run >= d.On:
				want = alarm.Raised
			case active && sig == alarm.Clear && run >= d.Off:
				want = alarm.Cleared
			}
			require.Equal(t, want, s.Step(sig, d, time.Duration(i)))
			if want != alarm.Same {
				active, since = want == alarm.Raised, i+1
			}
			require.Equal(t, active, s.Active)
		}
	})
}
