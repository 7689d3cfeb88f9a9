// Package alarm holds the timing of one alarm: on-delay, off-delay and the
// hold when the rule behind it cannot judge. It is a pure step over a small
// state. It knows neither the rule nor its limit, and no clock.
package alarm

import "time"

// Delays of one alarm.
type Delays struct {
	// On is how long the condition must hold before the alarm is raised.
	On time.Duration
	// Off is how long the condition must be gone before it is cleared.
	Off time.Duration
}

// Signal is what the rule says in one frame.
type Signal uint8

// The signals.
const (
	// Clear: inside the limit by more than the deadband.
	Clear Signal = iota
	// Between: inside the limit, but not by the deadband: neither raises nor
	// clears.
	Between
	// Beyond: beyond the limit.
	Beyond
	// Unjudged: the rule can't judge. A standing alarm stays; none is raised.
	Unjudged
	// Off: the rule doesn't apply in this state of the machine. The alarm
	// goes back at once.
	Off
)

// Change is what a step did.
type Change uint8

// The changes.
const (
	Same Change = iota
	Raised
	Cleared
)

// State is one alarm's memory. The zero value is a quiet alarm.
type State struct {
	// Active is true from raise to clear; Since is when that began.
	Active bool
	Since  time.Duration
	// Onset is when the condition behind the standing alarm began.
	Onset time.Duration

	timing bool
	from   time.Duration
}

// Step advances the alarm to time t.
func (s *State) Step(sig Signal, d Delays, t time.Duration) Change {
	if sig == Off {
		return s.dropOff(t)
	}
	// towards is the signal that runs the timer: Beyond to raise, Clear to
	// clear. Anything else restarts it.
	towards := Beyond
	if s.Active {
		towards = Clear
	}
	if sig != towards {
		s.timing = false
		return Same
	}
	if !s.timing {
		s.timing, s.from = true, t
	}
	delay := d.On
	if s.Active {
		delay = d.Off
	}
	if t-s.from < delay {
		return Same
	}
	s.timing = false
	if s.Active {
		s.Active, s.Since = false, t
		return Cleared
	}
	s.Active, s.Since, s.Onset = true, t, s.from
	return Raised
}

// Break forgets a running timer, as after a gap in the data: a delay must be
// seen, not assumed.
func (s *State) Break() { s.timing = false }

func (s *State) dropOff(t time.Duration) Change {
	s.timing = false
	if !s.Active {
		return Same
	}
	s.Active, s.Since = false, t
	return Cleared
}
