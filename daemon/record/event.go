package record

import (
	"encoding/json"
	"math"
	"time"

	"headroom/rules/engine"
)

// Event is one alarm going up or back, as one line of events.jsonl.
type Event struct {
	// Boot and TNs order events; Wall is what the clock said.
	Boot uint64    `json:"boot"`
	TNs  int64     `json:"t_ns"`
	Wall time.Time `json:"wall"`
	// Alarm is its name, such as "inlet_low.warn" or "sensor.flow".
	Alarm string `json:"alarm"`
	// Raised is true for going up, false for going back.
	Raised bool   `json:"raised"`
	Level  string `json:"level"`
	// OnsetNs is when the condition began, First marks the first-out, Machine
	// is what the machine was doing.
	OnsetNs int64  `json:"onset_ns"`
	First   bool   `json:"first"`
	Machine string `json:"machine"`
	// Value and Limit of a rule, SI; absent where there is none.
	Value *float64 `json:"value,omitempty"`
	Limit *float64 `json:"limit,omitempty"`
	// Status of a sensor.
	Status string `json:"status,omitempty"`
}

func newEvent(boot uint64, wall time.Time, tr *engine.Transition) Event {
	e := Event{
		Boot: boot, TNs: int64(tr.T), Wall: jsonWall(wall), Raised: tr.Raised, Level: tr.Level.String(),
		Alarm: tr.Alarm.String(), OnsetNs: int64(tr.Onset), First: tr.First, Machine: tr.Machine.String(),
	}
	if _, ok := tr.Alarm.Channel(); ok {
		e.Status = tr.Status.String()
		return e
	}
	e.Value, e.Limit = finite(tr.Value), finite(tr.Limit)
	return e
}

// jsonWall is a wall time in UTC, zero when JSON has no such date.
func jsonWall(w time.Time) time.Time {
	if y := w.UTC().Year(); y < 0 || y > 9999 {
		return time.Time{}
	}
	return w.UTC()
}

// finite keeps what JSON can hold.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// same reports the same transition written twice, as after a retry.
func (e *Event) same(o *Event) bool {
	return e.TNs == o.TNs && e.Alarm == o.Alarm && e.Raised == o.Raised
}

func appendEvent(dst []byte, e Event) []byte {
	line, err := json.Marshal(e)
	if err != nil {
		// Can't be: the struct holds only what JSON takes. An empty line is
		// passed over by the reader.
		line = nil
	}
	return append(append(dst, line...), '\n')
}
