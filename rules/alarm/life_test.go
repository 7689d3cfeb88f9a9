package alarm_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/alarm"
)

// The transitions of the state diagram (ANSI/ISA-18.2, as told by public
// projects that implement it; the latched pair from memory).
func TestDiagram(t *testing.T) {
	raise := func(l *alarm.Life) { l.Raise() }
	clearIt := func(l *alarm.Life) { l.Clear(false) }
	clearLatched := func(l *alarm.Life) { l.Clear(true) }
	do := func(a alarm.Act) func(*alarm.Life) {
		return func(l *alarm.Life) { l.Do(a, 0, time.Minute) }
	}
	ack := do(alarm.Acknowledge)
	for _, c := range []struct {
		name  string
		steps []func(*alarm.Life)
		want  alarm.Phase
	}{
		{"A to B on alarm", []func(*alarm.Life){raise}, alarm.Unacknowledged},
		{"B to C on acknowledge", []func(*alarm.Life){raise, ack}, alarm.Acknowledged},
		{"C to A on return", []func(*alarm.Life){raise, ack, clearIt}, alarm.Normal},
		{"B to D on return", []func(*alarm.Life){raise, clearIt}, alarm.Returned},
		{"D to A on acknowledge", []func(*alarm.Life){raise, clearIt, ack}, alarm.Normal},
		{"D to B on re-alarm", []func(*alarm.Life){raise, clearIt, raise}, alarm.Unacknowledged},
		{"latched, not acknowledged", []func(*alarm.Life){raise, clearLatched}, alarm.LatchedUnacknowledged},
		{"latched, acknowledged", []func(*alarm.Life){raise, clearLatched, ack}, alarm.LatchedAcknowledged},
		{"latched after acknowledge", []func(*alarm.Life){raise, ack, clearLatched}, alarm.LatchedAcknowledged},
		{"reset ends the latch", []func(*alarm.Life){raise, clearLatched, ack, do(alarm.Reset)}, alarm.Normal},
		{"reset needs an acknowledge", []func(*alarm.Life){raise, clearLatched, do(alarm.Reset)}, alarm.LatchedUnacknowledged},
		{"reset can't end what stands", []func(*alarm.Life){raise, ack, do(alarm.Reset)}, alarm.Acknowledged},
		{"latched alarm comes again", []func(*alarm.Life){raise, ack, clearLatched, raise}, alarm.Unacknowledged},
		{"shelved", []func(*alarm.Life){raise, do(alarm.Shelve)}, alarm.Shelved},
		{"unshelved while it stands calls anew", []func(*alarm.Life){raise, ack, do(alarm.Shelve), do(alarm.Unshelve)}, alarm.Unacknowledged},
		{"out of service", []func(*alarm.Life){raise, do(alarm.TakeOut)}, alarm.OutOfService},
		{"put back while it stands calls", []func(*alarm.Life){raise, ack, do(alarm.TakeOut), do(alarm.PutBack)}, alarm.Unacknowledged},
		{"what is out can't be shelved", []func(*alarm.Life){do(alarm.TakeOut), do(alarm.Shelve), do(alarm.PutBack)}, alarm.Normal},
	} {
		var l alarm.Life
		for _, s := range c.steps {
			s(&l)
		}
		require.Equal(t, c.want, l.Phase(), c.name)
	}
}

func TestShelfEnds(t *testing.T) {
	var l alarm.Life
	l.Raise()
	l.Do(alarm.Acknowledge, 0, 0)
	require.True(t, l.Do(alarm.Shelve, time.Hour, 30*time.Minute))
	l.Tend(time.Hour+29*time.Minute, false)
	require.Equal(t, alarm.Shelved, l.Phase())
	require.False(t, l.Calls())
	l.Tend(time.Hour+30*time.Minute, false)
	require.Equal(t, alarm.Unacknowledged, l.Phase())
	require.False(t, l.Do(alarm.Shelve, 0, alarm.MaxShelf+1), "no shelf without an end")
	require.False(t, l.Do(alarm.Shelve, 0, 0))
}

func TestSuppressedAlarmCallsWhenItsCauseIsGone(t *testing.T) {
	var l alarm.Life
	l.Raise()
	l.Tend(1, true)
	require.Equal(t, alarm.Suppressed, l.Phase())
	require.False(t, l.Calls())
	require.True(t, l.Do(alarm.Acknowledge, 1, 0))
	l.Tend(2, false)
	require.Equal(t, alarm.Unacknowledged, l.Phase(), "what was said of the cause was not said of this")
}

// Nothing is lost: an alarm whose condition stands is never Normal, one that
// was never acknowledged since its last raising always calls unless it is put
// aside, and a restart at any moment changes neither.
func TestNothingIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var l alarm.Life
		stands, known := false, true
		now := time.Duration(0)
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			now += time.Duration(rapid.Int64Range(0, int64(2*time.Hour)).Draw(t, "dt"))
			switch rapid.IntRange(0, 6).Draw(t, "what") {
			case 0:
				if !stands {
					l.Raise()
					stands, known = true, false
				}
			case 1:
				if stands {
					l.Clear(rapid.Bool().Draw(t, "latches"))
					stands = false
				}
			case 2:
				if l.Do(alarm.Acknowledge, now, 0) {
					known = true
				}
			case 3:
				l.Do(alarm.Act(rapid.IntRange(0, int(alarm.NumActs)-1).Draw(t, "act")), now, time.Hour)
			case 4:
				l.Tend(now, rapid.Bool().Draw(t, "suppress"))
			case 5:
				k := l.Keep(now)
				var again alarm.Life
				require.True(t, again.Restore(k, 0))
				require.Equal(t, k, again.Keep(0))
				l, now = again, 0
			}
			if stands {
				require.True(t, l.Standing())
				require.NotEqual(t, alarm.Normal, l.Phase())
			}
			if l.Base() == alarm.Acknowledged {
				known = true // by the general act above
			}
			if !known && l.Base() != alarm.Normal && l.Base() != alarm.LatchedAcknowledged {
				require.Contains(t, []alarm.Phase{
					alarm.Unacknowledged, alarm.Returned, alarm.LatchedUnacknowledged, alarm.Shelved, alarm.Suppressed, alarm.OutOfService,
				}, l.Phase())
			}
		}
	})
}

func TestRestoreRefusesNonsense(t *testing.T) {
	var l alarm.Life
	require.False(t, l.Restore(alarm.Kept{Base: alarm.Shelved}, 0))
	require.False(t, l.Restore(alarm.Kept{Shelved: true, ShelfLeft: -1}, 0))
	require.Equal(t, alarm.Normal, l.Phase())
}

func TestChatterAndFlood(t *testing.T) {
	var c alarm.Chatter
	for _, s := range []time.Duration{0, 10, 20} {
		require.False(t, c.On(s*time.Second))
		c.Note(s * time.Second)
	}
	require.True(t, c.On(20*time.Second), "EEMUA 191: three a minute")
	require.False(t, c.On(61*time.Second))

	var f alarm.Flood
	for i := range 10 {
		f.Note(time.Duration(i) * time.Second)
	}
	require.False(t, f.Step(10*time.Second))
	f.Note(11 * time.Second)
	require.True(t, f.Step(11*time.Second), "ANSI/ISA-18.2: more than ten in ten minutes")
	require.True(t, f.Step(10*time.Minute+6*time.Second), "until fewer than five are left")
	require.False(t, f.Step(10*time.Minute+8*time.Second))
}
