package notify

import (
	"time"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/units"
	"headroom/rules/words"
)

// State is what an alarm did. The zero value is NotRaised.
type State uint8

// The states.
const (
	// NotRaised: not once since the run began.
	NotRaised State = iota
	// Raised: it stands.
	Raised
	// Returned: it stood and has gone back.
	Returned
)

// String returns the state as it stands in messages.
func (s State) String() string {
	switch s {
	case Raised:
		return "raised"
	case Returned:
		return "returned"
	}
	return "not_raised"
}

// Clock says how far the machine's wall clock can be trusted. A small board
// without a battery starts with a clock that may be weeks off.
type Clock uint8

// The states of the clock. The zero value is ClockUnknown.
const (
	// ClockUnknown: nobody has said.
	ClockUnknown Clock = iota
	// ClockUnset: it runs from an arbitrary time.
	ClockUnset
	// ClockEstimated: it was set from the last known time, or by a person.
	ClockEstimated
	// ClockSynced: it follows a time server.
	ClockSynced
)

// String returns the clock's state as it stands in messages.
func (c Clock) String() string {
	switch c {
	case ClockUnset:
		return "unset"
	case ClockEstimated:
		return "estimated"
	case ClockSynced:
		return "synced"
	}
	return "unknown"
}

// Amount is a number with its quantity, in SI. Known is false where there is
// none, as for a sensor's alarm.
type Amount struct {
	SI       float64
	Quantity units.Quantity
	Known    bool
}

// Notification is one state of one alarm, with all that a person far away needs
// to decide. It is never changed once queued.
type Notification struct {
	// Machine is the machine's name, Boot the number of the run (0 when no
	// record numbers them), Seq the event's number in the run. A state that was
	// read from a snapshot because its event was lost has the number of the last
	// lost event; 0 means that the alarm was never raised.
	Machine   string
	Boot, Seq uint64
	// Units the texts are written in, and Dashboard where more can be read.
	Units     units.System
	Dashboard string

	Alarm engine.AlarmID
	State State
	Level engine.Level
	// Words of the alarm. LooksLike and Do are the likeliest cause by the
	// readings and what to do about it; empty where they can't tell.
	Words         words.Text
	LooksLike, Do string
	// Value and Limit of the rule at that moment; Sensor is the status of the
	// sensor, for a sensor's alarm.
	Value, Limit Amount
	Sensor       frame.Status
	// MachineState is what the machine was doing, FirstOut marks the alarm that
	// came first of its group.
	MachineState machine.State
	FirstOut     bool

	// OnsetMono is when the condition began, Mono when the alarm changed, since
	// the run's start. OnsetWall and Wall say the same by the wall clock, which
	// may jump and whose state was Clock; they are zero when unknown.
	OnsetMono, Mono time.Duration
	OnsetWall, Wall time.Time
	Clock           Clock
	// Coalesced counts earlier states of this alarm that this target never got.
	Coalesced int

	// run tells runs apart in IDs, also where Boot is 0.
	run string
	// onset and at are the same moments with a reading of this process's
	// monotonic clock, so that ages stay right when the wall clock jumps.
	onset, at time.Time
}

// quantity returns what an alarm's value measures; ok is false for a sensor's
// alarm.
func quantity(a engine.AlarmID) (q units.Quantity, ok bool) {
	r, ok := a.Rule()
	if !ok {
		return units.None, false
	}
	return r.Spec().Quantity, true
}
