package scenario

import (
	"fmt"
	"time"
)

// Happened is one alarm that went up or back while a scenario ran.
type Happened struct {
	// Alarm as Expect.String writes it, for example "inlet_low.warn".
	Alarm string
	At    time.Duration
	// Raised is true for up, false for back.
	Raised bool
}

// Check compares what happened, in order of time, with what was expected, and
// returns one line for each difference; none means that the scenario holds.
func (s *Scenario) Check(log []Happened) (differences []string) {
	for i := range log {
		if h := &log[i]; h.Raised && !s.covers(h.Alarm) {
			differences = append(differences, fmt.Sprintf("%s came at %s and nobody expected it", h.Alarm, clock(h.At)))
		}
	}
	for i := range s.Expects {
		if e := &s.Expects[i]; !e.Maybe {
			differences = append(differences, e.check(log)...)
		}
	}
	return differences
}

func (s *Scenario) covers(alarm string) bool {
	for i := range s.Expects {
		if s.Expects[i].Covers(alarm) {
			return true
		}
	}
	return false
}

func (e *Expect) check(log []Happened) (differences []string) {
	var first, last *Happened
	for i := range log {
		h := &log[i]
		if !e.Covers(h.Alarm) {
			continue
		}
		if first == nil && h.Raised {
			first = h
		}
		last = h
	}
	window := fmt.Sprintf("%s is expected between %s and %s", e, clock(e.From), clock(e.To))
	switch {
	case first == nil:
		return []string{window + " and never came"}
	case first.At < e.From || first.At > e.To:
		differences = append(differences, fmt.Sprintf("%s and came at %s", window, clock(first.At)))
	}
	if e.ClearedBy > 0 && (last.Raised || last.At > e.ClearedBy) {
		differences = append(differences, fmt.Sprintf("%s should be gone by %s and was not", e, clock(e.ClearedBy)))
	}
	return differences
}

// clock writes a time as the files do.
func clock(d time.Duration) string {
	return fmt.Sprintf("%d:%04.1f", int(d/time.Minute), (d % time.Minute).Seconds())
}
