package alarm

import "time"

// Phase is where an alarm stands in its life, by the state diagram of
// ANSI/ISA-18.2 and IEC 62682. The zero value is Normal.
type Phase uint8

// The phases.
const (
	// Normal: the condition is gone and nobody needs to know of it.
	Normal Phase = iota
	// Unacknowledged: the condition stands and nobody has said "I know".
	Unacknowledged
	// Acknowledged: the condition stands and somebody knows.
	Acknowledged
	// Returned: the condition is gone, and nobody has acknowledged it.
	Returned
	// LatchedUnacknowledged: the condition is gone, but the alarm stays until
	// it is acknowledged and reset.
	LatchedUnacknowledged
	// LatchedAcknowledged: acknowledged, and waiting for its reset.
	LatchedAcknowledged
	// Shelved: put aside by a person, for a time.
	Shelved
	// Suppressed: put aside by design, because its cause already speaks.
	Suppressed
	// OutOfService: taken out by a person until put back.
	OutOfService

	// NumPhases is the number of phases.
	NumPhases
)

var phaseNames = [NumPhases]string{
	"normal", "unacknowledged", "acknowledged", "returned_unacknowledged", "latched_unacknowledged",
	"latched_acknowledged", "shelved", "suppressed", "out_of_service",
}

var phaseWords = [NumPhases]string{
	"normal", "not acknowledged", "acknowledged", "returned to normal, not acknowledged", "latched, not acknowledged",
	"latched, waiting for reset", "shelved", "shown under its cause", "out of service",
}

// String returns the phase as it stands in recordings and metrics.
func (p Phase) String() string {
	if p >= NumPhases {
		return "unknown_phase"
	}
	return phaseNames[p]
}

// Words returns the phase for people.
func (p Phase) Words() string {
	if p >= NumPhases {
		return "unknown"
	}
	return phaseWords[p]
}

// PhaseByName returns the phase with that name; ok is false for none.
func PhaseByName(name string) (p Phase, ok bool) {
	for i, n := range phaseNames {
		if n == name {
			return Phase(i), true
		}
	}
	return NumPhases, false
}

// Life is one alarm's memory of people and causes, beside the condition that
// State times. The zero value is an alarm that nobody has ever seen.
type Life struct {
	// base is the phase but for what puts the alarm aside: one of Normal to
	// LatchedAcknowledged.
	base Phase
	// shelved until that time; out and suppressed put the alarm aside too.
	shelved, out, suppressed bool
	until                    time.Duration
}

// Phase returns where the alarm stands. What a person did comes before what
// the design does.
func (l *Life) Phase() Phase {
	switch {
	case l.out:
		return OutOfService
	case l.shelved:
		return Shelved
	case l.suppressed && l.Standing():
		return Suppressed
	}
	return l.base
}

// Standing reports whether the condition stands, aside or not.
func (l *Life) Standing() bool { return l.base == Unacknowledged || l.base == Acknowledged }

// IsOut reports whether the alarm is out of service.
func (l *Life) IsOut() bool { return l.out }

// Settle forgets a return that nobody acknowledged, for alarms so mild that
// nobody must.
func (l *Life) Settle() {
	if l.base == Returned {
		l.base = Normal
	}
}

// Base returns the phase under what puts the alarm aside.
func (l *Life) Base() Phase { return l.base }

// ShelvedUntil returns the end of the shelving; ok is false when not shelved.
func (l *Life) ShelvedUntil() (until time.Duration, ok bool) { return l.until, l.shelved }

// Calls reports whether the alarm asks for a person: it stands or has stood,
// nobody has acknowledged it, and nothing puts it aside.
func (l *Life) Calls() bool { return l.Phase().Calls() }

// Calls reports whether an alarm in this phase asks for a person.
func (p Phase) Calls() bool {
	return p == Unacknowledged || p == Returned || p == LatchedUnacknowledged
}

// Raise notes that the condition began. Whatever was acknowledged before, a
// new occurrence is new.
func (l *Life) Raise() { l.base = Unacknowledged }

// Clear notes that the condition is gone; latches says whether the alarm stays
// until a person resets it. An alarm that stood under its cause all the time
// goes quietly: the cause is what a person is asked about.
func (l *Life) Clear(latches bool) {
	switch {
	case l.suppressed && !latches && l.Standing():
		l.base = Normal
	case l.base == Unacknowledged && latches:
		l.base = LatchedUnacknowledged
	case l.base == Acknowledged && latches:
		l.base = LatchedAcknowledged
	case l.base == Unacknowledged:
		l.base = Returned
	case l.base == Acknowledged:
		l.base = Normal
	}
}

// Tend ends a shelving whose time is over, and sets whether the design puts the
// alarm aside. An alarm that comes back from the shelf, or from under its
// cause, while its condition stands calls anew.
func (l *Life) Tend(t time.Duration, suppress bool) {
	if l.shelved && t >= l.until {
		l.unshelve()
	}
	if l.suppressed && !suppress && l.base == Acknowledged {
		l.base = Unacknowledged
	}
	l.suppressed = suppress
}

func (l *Life) unshelve() {
	l.shelved, l.until = false, 0
	if l.base == Acknowledged {
		l.base = Unacknowledged
	}
}

// Act is what a person does to an alarm.
type Act uint8

// The acts.
const (
	// Acknowledge says "I know".
	Acknowledge Act = iota
	// Reset ends a latched alarm whose condition is gone.
	Reset
	// Shelve puts the alarm aside for a time.
	Shelve
	// Unshelve takes it back before its time.
	Unshelve
	// TakeOut takes the alarm out of service, PutBack puts it back.
	TakeOut
	PutBack

	// NumActs is the number of acts.
	NumActs
)

var actNames = [NumActs]string{"acknowledge", "reset", "shelve", "unshelve", "take_out", "put_back"}

// String returns the act as it stands in recordings and requests.
func (a Act) String() string {
	if a >= NumActs {
		return "unknown_act"
	}
	return actNames[a]
}

// ActByName returns the act with that name; ok is false for none.
func ActByName(name string) (a Act, ok bool) {
	for i, n := range actNames {
		if n == name {
			return Act(i), true
		}
	}
	return NumActs, false
}

// MaxShelf is the longest that an alarm may be shelved: a shelf without an end
// is an alarm switched off. One shift; common practice, no source.
const MaxShelf = 8 * time.Hour

// Do applies a person's act at time t; shelf is how long for Shelve. ok is
// false, and nothing changes, where the act means nothing in this phase: the
// caller tells the person so.
func (l *Life) Do(a Act, t, shelf time.Duration) (ok bool) {
	switch a {
	case Acknowledge:
		return l.acknowledge()
	case Reset:
		if l.base != LatchedAcknowledged || l.out {
			return false
		}
		l.base = Normal
	case Shelve:
		if l.out || shelf <= 0 || shelf > MaxShelf {
			return false
		}
		l.shelved, l.until = true, t+shelf
	case Unshelve:
		if !l.shelved {
			return false
		}
		l.unshelve()
	case TakeOut:
		if l.out {
			return false
		}
		l.out = true
	case PutBack:
		return l.putBack()
	default:
		return false
	}
	return true
}

func (l *Life) acknowledge() bool {
	if l.out {
		return false
	}
	switch l.base {
	case Unacknowledged:
		l.base = Acknowledged
	case Returned:
		l.base = Normal
	case LatchedUnacknowledged:
		l.base = LatchedAcknowledged
	default:
		return false
	}
	return true
}

func (l *Life) putBack() bool {
	if !l.out {
		return false
	}
	l.out = false
	if l.base == Acknowledged {
		l.base = Unacknowledged
	}
	return true
}

// Kept is a life in a form that survives a restart: times that are left
// instead of times of a clock that starts anew.
type Kept struct {
	Base         Phase
	Out, Shelved bool
	ShelfLeft    time.Duration
}

// Keep returns the life as it stands at time t.
func (l *Life) Keep(t time.Duration) Kept {
	k := Kept{Base: l.base, Out: l.out, Shelved: l.shelved}
	if l.shelved {
		k.ShelfLeft = max(l.until-t, 0)
	}
	return k
}

// Restore makes the life what was kept, at time t of the new clock. ok is
// false, and the life stays normal, for what no life can be.
func (l *Life) Restore(k Kept, t time.Duration) (ok bool) {
	*l = Life{}
	if k.Base > LatchedAcknowledged || k.ShelfLeft < 0 || k.ShelfLeft > MaxShelf {
		return false
	}
	l.base, l.out, l.shelved = k.Base, k.Out, k.Shelved
	if k.Shelved {
		l.until = t + k.ShelfLeft
	}
	return true
}
