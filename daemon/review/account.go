package review

import (
	"time"

	"headroom/daemon/store"
)

// Account is a run, or a span of a boot, told in words.
type Account struct {
	Head Head
	// Sentences in the order of time.
	Sentences []Sentence
	// CannotTell is what the record can not tell, most important first.
	CannotTell []Sentence
	Summary    Summary
}

// Head says what was recorded, by what, and when.
type Head struct {
	ID store.RunID
	// From and To bound what is told, in monotonic time of the boot: a run
	// with the minutes around it that belong to it. Start and End are the run's
	// own; for a whole boot they are the same as From and To.
	From, To, Start, End time.Duration
	// Ended is how the run ended, as store.Run has it.
	Ended string
	// StartWall is the best known time of Start; zero where nothing is known.
	StartWall time.Time
	// Clock says how far StartWall can be believed.
	Clock Clock
	// Machine is its name, Software the version that recorded, Config the hash
	// of the configuration in force.
	Machine, Software, Config string
	// Source is what gave the readings, and the file that it was imported from.
	Source store.Source
	// HasConfig tells that the record holds that configuration.
	HasConfig bool
}

// Clock says how far the account's clock times can be believed.
type Clock uint8

// The states of the clock.
const (
	// ClockUnknown: nothing is known of the time of day.
	ClockUnknown Clock = iota
	// ClockUnchecked: what the board's clock said, which nobody checked.
	ClockUnchecked
	// ClockByPerson: set by a person or the phone in their hand.
	ClockByPerson
	// ClockSynced: synchronised with a time server or a satellite.
	ClockSynced
)

var clockWords = [...]string{
	"clock not set", "by the board's own clock, not checked", "clock set by a person", "clock synchronised",
}

// Words returns the state of the clock for people.
func (c Clock) Words() string {
	if int(c) >= len(clockWords) {
		return "state of the clock unknown"
	}
	return clockWords[c]
}

// Kind says what a sentence tells of.
type Kind string

// The kinds of sentences.
const (
	// KindStart and KindStop: the run begins or ends.
	KindStart Kind = "start"
	KindStop  Kind = "stop"
	// KindConditions: what it worked with, once it ran.
	KindConditions Kind = "conditions"
	// KindState: the machine does something else than before.
	KindState Kind = "state"
	// KindSwitch: the motor or engine was switched on or off.
	KindSwitch Kind = "switch"
	// KindChange: a reading changed by much around an alarm.
	KindChange Kind = "change"
	// KindAlarm: an alarm came; KindConsequence: further ones that follow from
	// it; KindCleared: its condition was gone.
	KindAlarm       Kind = "alarm"
	KindConsequence Kind = "consequence"
	KindCleared     Kind = "cleared"
	// KindAct: a person, or the program on its own, did something.
	KindAct Kind = "act"
	// KindRanOn: the pump went on after an alarm that asks to act at once.
	KindRanOn Kind = "ran_on"
	// KindSensor: a sensor was not trusted, or was again.
	KindSensor Kind = "sensor"
	// KindGap: no frames for a time.
	KindGap Kind = "gap"
	// KindClock: something about the time of day.
	KindClock Kind = "clock"
	// KindExposure: how long and how far beyond a limit.
	KindExposure Kind = "exposure"
	// KindLimit: what the record can not tell.
	KindLimit Kind = "cannot_tell"
)

// Sentence is one statement with what it rests on.
type Sentence struct {
	// N numbers the account's sentences from 1, so that a report and a page
	// mean the same one.
	N    int
	Kind Kind
	// From is the time it tells of, and To the end of it where it is a span;
	// else the same. Monotonic time of the boot.
	From, To time.Duration
	// Level is the severity of the alarm that it tells of, as engine.Level has
	// it; 0 for none.
	Level uint8
	// Parts make the text, in order.
	Parts    []Part
	Evidence []Evidence
}

// Gap is a span without frames.
type Gap struct {
	From, To time.Duration
	// Lost says that the record had frames there; Thinned, that they were
	// given up to make room. Why is the reason in words.
	Lost, Thinned bool
	Why           string
}
