package store

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"headroom/rules/engine"
)

// RunID names a run: the boot it happened in and its number there, from 1.
// Number 0 stands for the whole boot, with all that lies between the runs.
type RunID struct {
	Boot uint64
	N    int
}

// String is the run for people and addresses, for example "12.3".
func (id RunID) String() string { return strconv.FormatUint(id.Boot, 10) + "." + strconv.Itoa(id.N) }

// Words are the run for a sentence or a title in lower case: "run 12.3", or
// "boot 12" for a whole boot.
func (id RunID) Words() string {
	if id.N == 0 {
		return "boot " + strconv.FormatUint(id.Boot, 10)
	}
	return "run " + id.String()
}

// ParseRunID reads what String wrote, and a bare number as a whole boot.
func ParseRunID(s string) (id RunID, err error) {
	boot, n, dotted := strings.Cut(s, ".")
	id.Boot, err = strconv.ParseUint(boot, 10, 62)
	if err == nil && dotted {
		id.N, err = strconv.Atoi(n)
	}
	if err != nil || id.N < 0 {
		return RunID{}, fmt.Errorf("%q names no run: write a boot's number and a run's, such as 12.3", s)
	}
	return id, nil
}

// Event is one alarm that went up or back.
type Event struct {
	// Boot and T order events; Wall is what the clock said.
	Boot uint64        `json:"boot"`
	T    time.Duration `json:"t_ns"`
	Wall time.Time     `json:"wall,omitzero"`
	// Alarm is its name, such as "inlet_low.warn" or "sensor.flow".
	Alarm  string `json:"alarm"`
	Raised bool   `json:"raised"`
	// Level in words and as engine.Level's number.
	Level  string `json:"level"`
	LevelN uint8  `json:"level_n"`
	// Onset is when the condition began, First marks the first-out, Machine is
	// what the machine was doing.
	Onset   time.Duration `json:"onset_ns"`
	First   bool          `json:"first,omitempty"`
	Machine string        `json:"machine"`
	// Under is the cause that the alarm stood under, empty for none.
	Under string `json:"under,omitempty"`
	// Value and Limit of a rule, SI; absent where there is none.
	Value *float64 `json:"value,omitempty"`
	Limit *float64 `json:"limit,omitempty"`
	// Status of a sensor.
	Status string `json:"status,omitempty"`
}

func newEvent(boot uint64, wall time.Time, tr *engine.Transition) Event {
	e := Event{
		Boot: boot, T: tr.T, Wall: plainWall(wall), Alarm: tr.Alarm.String(), Raised: tr.Raised,
		Level: tr.Level.String(), LevelN: uint8(tr.Level), Onset: tr.Onset, First: tr.First, Machine: tr.Machine.String(),
	}
	if tr.HasCause {
		e.Under = tr.Under.String()
	}
	if _, ok := tr.Alarm.Channel(); ok {
		e.Status = tr.Status.String()
		return e
	}
	e.Value, e.Limit = finite(tr.Value), finite(tr.Limit)
	return e
}

// Incident reports whether the event's surroundings are kept longest.
func (e *Event) Incident() bool { return e.Raised && e.LevelN >= uint8(engine.Warning) }

// CalibrationsInForce is the act that says which calibrations the channels were
// read by from then on: "sha256 ", the hash of what follows, a space, and the
// calibrations in JSON.
const CalibrationsInForce = "calibrations_in_force"

// Act is what a person did, or the program did to the machine on its own.
type Act struct {
	// Boot and T order acts; Wall is what the clock said. N counts the acts of
	// a boot from 1; Store.Act sets Boot and N.
	Boot uint64        `json:"boot"`
	N    int           `json:"n"`
	T    time.Duration `json:"t_ns"`
	Wall time.Time     `json:"wall,omitzero"`
	// Who did it, as the person gave the name; empty where nobody can tell.
	Who string `json:"who,omitempty"`
	// What was done, such as "acknowledge", "shelve", "note" or "stop".
	What string `json:"what"`
	// Alarm it was done to, empty for none, and for how long.
	Alarm string        `json:"alarm,omitempty"`
	For   time.Duration `json:"for_ns,omitempty"`
	// With are the other alarms that the same act changed, as those that stood
	// under Alarm. Records of earlier versions don't tell them.
	With []string `json:"with,omitempty"`
	// Text is the person's own words.
	Text string `json:"text,omitempty"`
	// Incident marks an act whose surroundings are kept longest, as a stop of
	// the machine.
	Incident bool `json:"incident,omitempty"`
}

// Trust is how far an observation of the clock can be believed.
type Trust uint8

// The kinds of observations, the better ones last.
const (
	// Seen: what the clock said, right or wrong.
	Seen Trust = iota
	// ByPerson: a person, or the phone in their hand, told the time.
	ByPerson
	// Synced: the clock was synchronised with a time server or a satellite.
	Synced
)

// Observation says what the time was at a monotonic time.
type Observation struct {
	Boot  uint64        `json:"boot"`
	T     time.Duration `json:"t_ns"`
	Wall  time.Time     `json:"wall"`
	Trust Trust         `json:"trust"`
}

// plainWall is a wall time in UTC without a monotonic reading; zero when JSON
// and the files have no such date.
func plainWall(w time.Time) time.Time {
	if y := w.UTC().Year(); y < 1825 || y > 2115 {
		return time.Time{}
	}
	return time.Unix(0, w.UnixNano()).UTC()
}

// finite keeps what JSON can hold.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
