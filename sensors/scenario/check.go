package scenario

import (
	"fmt"
	"time"
)

// Happened is one alarm from raise to clear while a scenario ran.
type Happened struct {
	// Alarm as Expect.String writes it, for example "inlet_low.warn".
	Alarm string
	// At is when it was raised and Gone when it went back; 0 where it still
	// stood at the end.
	At, Gone time.Duration
	// Under is the alarm that it stood under for most of its time, empty for
	// none.
	Under string
	// Called is whether it called for a person when it was raised, Again how
	// often it did so later.
	Called bool
	Again  int
}

// Check compares what happened, in order of time, with what was expected, and
// returns one line for each difference; none means that the scenario holds.
// Every raising needs a line whose window holds it, and every line that isn't
// a maybe needs exactly one. A root stands under nothing and calls once; a
// consequence stands under its cause and calls only where it came before it.
func (s *Scenario) Check(log []Happened) (differences []string) {
	for i := range log {
		h := &log[i]
		e := s.expected(h)
		if e == nil {
			differences = append(differences, fmt.Sprintf("%s came at %s and nobody expected it", h.Alarm, clock(h.At)))
			continue
		}
		differences = append(differences, e.checkPlace(h, log)...)
	}
	for i := range s.Expects {
		if e := &s.Expects[i]; !e.Maybe {
			differences = append(differences, e.check(log)...)
		}
	}
	return differences
}

// expected finds the line that stands for what happened.
func (s *Scenario) expected(h *Happened) *Expect {
	for i := range s.Expects {
		if s.Expects[i].allows(h.Alarm, h.At) {
			return &s.Expects[i]
		}
	}
	return nil
}

// checkPlace compares where the alarm stood and whether it called.
func (e *Expect) checkPlace(h *Happened, log []Happened) (differences []string) {
	say := func(format string, args ...any) {
		what := fmt.Sprintf("%s of %s ", h.Alarm, clock(h.At))
		differences = append(differences, what+fmt.Sprintf(format, args...))
	}
	switch {
	case e.Under != h.Under && e.Under == "":
		say("stood under %s and should stand by itself", h.Under)
	case e.Under != h.Under && h.Under == "":
		say("stood by itself and should stand under %s", e.Under)
	case e.Under != h.Under:
		say("stood under %s and should stand under %s", h.Under, e.Under)
	case e.Under == "" && !h.Called:
		say("should call and did not")
	case e.Under != "" && h.Called && !h.before(e.Under, log):
		say("is a consequence and called")
	}
	if h.Again > 0 {
		say("called %d times more, and once is enough", h.Again)
	}
	return differences
}

// before reports whether the cause came only after this alarm.
func (h *Happened) before(cause string, log []Happened) bool {
	for i := range log {
		c := &log[i]
		if c.Alarm == cause && c.At <= h.At && (c.Gone == 0 || c.Gone > h.At) {
			return false
		}
	}
	return true
}

func (e *Expect) check(log []Happened) (differences []string) {
	n := 0
	for i := range log {
		h := &log[i]
		if !e.allows(h.Alarm, h.At) {
			continue
		}
		n++
		if e.ClearedBy > 0 && (h.Gone == 0 || h.Gone > e.ClearedBy) {
			differences = append(differences, fmt.Sprintf("%s should be gone by %s and was not", e, clock(e.ClearedBy)))
		}
	}
	window := fmt.Sprintf("%s is expected between %s and %s", e, clock(e.From), clock(e.To))
	switch {
	case n == 0:
		return append(differences, window+" and never came")
	case n > 1:
		return append(differences, fmt.Sprintf("%s once and came %d times", window, n))
	}
	return differences
}

// clock writes a time as the files do.
func clock(d time.Duration) string {
	return fmt.Sprintf("%d:%04.1f", int(d/time.Minute), (d % time.Minute).Seconds())
}
