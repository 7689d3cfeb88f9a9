// Package alarm holds the timing of one alarm: on-delay, off-delay and the
// hold when the rule behind it cannot judge. It is a pure step over a small
// state. It knows neither the rule nor its limit, and no clock.
package alarm

import "time"

// Delays of one alarm.
type Delays struct {
	// On is how much longer the condition must have held than not before the
	// alarm is raised. A single reading on the good side takes back its own
	// time and not all that was seen before it.
	On time.Duration
	// Off is how long the condition must be gone, without a break, before it is
	// cleared.
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

	// timing is whether a timer runs, since from. seen is the time beyond less
	// the time back, at the last step, which was at.
	timing         bool
	from, at, seen time.Duration
}

// Step advances the alarm to time t.
func (s *State) Step(sig Signal, d Delays, t time.Duration) Change {
	if sig == Off {
		return s.dropOff(t)
	}
	dt := t - s.at
	s.at = t
	if s.Active {
		return s.clear(sig, d.Off, t)
	}
	return s.raise(sig, d.On, t, dt)
}

// raise counts the time beyond and takes back the time that is not, in the
// deadband too: a count that held there would add up the noise of a value that
// stays inside its limit. What can't be judged is no time beyond, and a sensor
// that flickers must not wipe out what was seen between.
func (s *State) raise(sig Signal, delay, t, dt time.Duration) Change {
	switch {
	case sig == Beyond && !s.timing:
		s.timing, s.from, s.seen = true, t, 0
	case sig == Beyond:
		s.seen += dt
	case s.timing:
		s.seen -= dt
		s.timing = s.seen >= 0
	}
	if sig != Beyond || s.seen < delay {
		return Same
	}
	s.timing = false
	s.Active, s.Since, s.Onset = true, t, s.from
	return Raised
}

// clear times how long the condition has been gone; anything else starts anew.
func (s *State) clear(sig Signal, delay, t time.Duration) Change {
	if sig != Clear {
		s.timing = false
		return Same
	}
	if !s.timing {
		s.timing, s.from = true, t
	}
	if t-s.from < delay {
		return Same
	}
	s.timing = false
	s.Active, s.Since = false, t
	return Cleared
}

// Busy reports whether the alarm stands or its on-delay runs.
func (s *State) Busy() bool { return s.Active || s.timing }

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
