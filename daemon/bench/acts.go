package bench

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"headroom/rules/steady"
	"headroom/rules/units"
)

// errHalted refuses what is done to a test that waits for GoOn.
var errHalted = errors.New(waitsForGoOn)

// Ready is a person's word that the present step is set. While the test waits
// for GoOn it is refused.
func (s *Session) Ready() error {
	if s.Halted() {
		return errHalted
	}
	s.ready = true
	return nil
}

// Take makes a point of the last readings although they aren't steady or the
// machine isn't at its target, for what can't be reached. It is marked so. It
// needs some seconds of readings.
func (s *Session) Take() error {
	step, ok := s.Step()
	if s.Halted() {
		return errHalted
	}
	if !ok || step.Kind.entered() {
		return fmt.Errorf("no step waits for a point")
	}
	if len(s.win.t) < steady.MinReadings {
		return fmt.Errorf("cannot take the point yet: %s", s.why)
	}
	s.take(step, true)
	return nil
}

// Enter tells the value of a step that a person measures, in SI, with the
// limits of its error, above 0.
func (s *Session) Enter(value, half float64, wall time.Time) error {
	step, ok := s.Step()
	if s.Halted() {
		return errHalted
	}
	if !ok || !step.Kind.entered() {
		return fmt.Errorf("the present step takes no value")
	}
	q, most := step.Kind.asked()
	switch {
	case !(value >= 0 && value <= most):
		return fmt.Errorf("such a value can't be: give 0 to %s", both(q, most))
	case !(half > 0 && half <= most):
		return fmt.Errorf("a value needs how far it may be off, above 0 and up to %s", both(q, most))
	}
	s.now.Wall = wall
	s.rec.Entries = append(append([]Entry(nil), s.rec.Entries...), Entry{step.ID, step.Kind, value, half, wall})
	s.advance()
	return nil
}

// asked is what a person tells of a step, and the most that it can be: what the
// library takes as a plate's flow, and as a relief valve's pressure.
func (k Kind) asked() (q units.Quantity, most float64) {
	if k == Reference {
		return units.Pressure, mostReliefPa
	}
	return units.FlowRate, mostFlowM3s
}

// Skip leaves a step out, with the reason; the test can't be whole then,
// unless the step is optional.
func (s *Session) Skip(why string, wall time.Time) error {
	if s.Halted() {
		return errHalted
	}
	if _, ok := s.Step(); !ok {
		return fmt.Errorf("no step is under way")
	}
	if strings.TrimSpace(why) == "" {
		return fmt.Errorf("leaving a step out needs a reason")
	}
	s.now.Wall = wall
	s.skip(why)
	return nil
}

func (s *Session) skip(why string) {
	s.rec.Skipped = append(append([]Gap(nil), s.rec.Skipped...), Gap{s.stepID(), why, s.now.Wall})
	s.advance()
}

// Back goes to the step before, to do it again; its newest point counts. At
// the first step it does nothing; while the test waits for GoOn it is refused.
func (s *Session) Back() error {
	if s.Halted() {
		return errHalted
	}
	if s.Done() || s.rec.Next == 0 {
		return nil
	}
	s.rec.Next--
	s.enter()
	return nil
}

// Abort ends the test as it is. It is kept, and stays partial.
func (s *Session) Abort(why string, wall time.Time) {
	if s.Done() {
		return
	}
	s.rec.Breaks = append(append([]Gap(nil), s.rec.Breaks...), Gap{s.stepID(), "aborted: " + why, wall})
	s.rec.State, s.rec.Ended = Aborted, wall
}
