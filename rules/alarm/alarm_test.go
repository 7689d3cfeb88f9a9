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
	require.Equal(t, alarm.Same, at(950, alarm.Between), "50 ms back are taken off")
	require.Equal(t, alarm.Same, at(1000, alarm.Clear), "and 50 ms more")
	require.Equal(t, alarm.Same, at(1199, alarm.Beyond))
	require.Equal(t, alarm.Raised, at(1200, alarm.Beyond))
	require.Equal(t, time.Duration(0), s.Onset)
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

// One reading on the good side in nine must not keep an alarm away; as many
// back as beyond must.
func TestAFlickerTakesBackItsOwnTimeOnly(t *testing.T) {
	for _, c := range []struct {
		name         string
		beyond, back int
		other        alarm.Signal
		want         bool
	}{
		{"eight of nine beyond", 8, 1, alarm.Clear, true},
		{"eight of nine beyond, one lost", 8, 1, alarm.Unjudged, true},
		{"two of three", 2, 1, alarm.Clear, true},
		{"half and half", 1, 1, alarm.Clear, false},
		{"one of nine", 1, 8, alarm.Clear, false},
		{"half and half unjudged", 1, 1, alarm.Unjudged, false},
		{"half beyond, half in the deadband", 1, 1, alarm.Between, false},
		{"spikes out of the deadband", 1, 8, alarm.Between, false},
	} {
		var s alarm.State
		for i := range 600 {
			sig := alarm.Beyond
			if i%(c.beyond+c.back) >= c.beyond {
				sig = c.other
			}
			s.Step(sig, delays, time.Duration(i)*100*time.Millisecond)
			if s.Active {
				break
			}
		}
		require.Equal(t, c.want, s.Active, c.name)
	}
}

// Never raised but after more time beyond than back by the whole on-delay,
// never cleared without Clear for the whole off-delay or Off: against a model
// that keeps the history.
func TestAgainstHistory(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := alarm.Delays{On: time.Duration(rapid.IntRange(0, 5).Draw(t, "on")), Off: time.Duration(rapid.IntRange(0, 5).Draw(t, "off"))}
		var s alarm.State
		var history []alarm.Signal
		active := false
		for i := range rapid.IntRange(1, 80).Draw(t, "steps") {
			sig := alarm.Signal(rapid.IntRange(0, 4).Draw(t, "signal"))
			history = append(history, sig)
			want := alarm.Same
			switch {
			case sig == alarm.Off:
				history = nil
				if active {
					want = alarm.Cleared
				}
			case !active && sig == alarm.Beyond && balance(history) >= d.On:
				want = alarm.Raised
			case active && sig == alarm.Clear && unbroken(history) >= d.Off:
				want = alarm.Cleared
			}
			require.Equal(t, want, s.Step(sig, d, time.Duration(i)))
			if want != alarm.Same {
				active, history = want == alarm.Raised, nil
			}
			require.Equal(t, active, s.Active)
		}
	})
}

// balance is the greatest of all sums "beyond less back" over the newest steps,
// which is what a count that never falls below 0 stands at (Lindley's equation,
// any text on queues). The step that starts a count adds nothing.
func balance(history []alarm.Signal) time.Duration {
	best, sum := 0, 0
	for i := len(history) - 1; i >= 0; i-- {
		switch history[i] {
		case alarm.Beyond:
			best = max(best, sum)
			sum++
		default:
			sum--
		}
	}
	return time.Duration(best)
}

// unbroken counts the newest steps that were clear, less the one that began it.
func unbroken(history []alarm.Signal) time.Duration {
	n := 0
	for n < len(history) && history[len(history)-1-n] == alarm.Clear {
		n++
	}
	return time.Duration(n - 1)
}
