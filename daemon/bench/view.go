package bench

import (
	"headroom/rules/frame"
	"headroom/rules/units"
)

// View is all that a terminal or a page needs to show a session: words and
// numbers in SI.
type View struct {
	// ID of the test and its State.
	ID    string
	State State
	// Step under way, its number from 1, of how many, and what to do in words.
	Step   Step
	Number int
	Of     int
	Todo   string
	// Halted is true while a test that was cut off waits for a person's GoOn:
	// nothing but that and Abort makes sense then.
	Halted bool
	// Waiting says what is missing to take the point; empty when nothing is.
	Waiting string
	// Met is true while the machine is as the step asks.
	Met bool
	// CollectedS of Step.WindowS seconds are collected.
	CollectedS float64
	// NeedsWord, NeedsValue: a person must say that it is ready, or enter a
	// value of Quantity.
	NeedsWord, NeedsValue bool
	Quantity              units.Quantity
	// CanTake, CanSkip and CanBack say which acts make sense now.
	CanTake, CanSkip, CanBack bool
	// Live are the samples of the last frame.
	Live [frame.NumChannels]frame.Sample
	// Steps lists all steps with how they stand.
	Steps []StepView
}

// StepView is one line of the list of steps.
type StepView struct {
	ID   string
	Kind Kind
	// Done, Now and Skipped (with Why) say how it stands.
	Done, Now, Skipped bool
	Why                string
}

// View returns what to show.
func (s *Session) View(sys units.System) View {
	v := View{ID: s.rec.ID, State: s.rec.State, Of: len(s.rec.Plan.Steps), Live: s.now.Samples, Met: s.met}
	for i, st := range s.rec.Plan.Steps {
		line := StepView{ID: st.ID, Kind: st.Kind, Done: s.rec.done(st), Now: i == s.rec.Next && !s.Done()}
		for _, g := range s.rec.Skipped {
			if g.Step == st.ID {
				line.Skipped, line.Why = true, g.Why
			}
		}
		v.Steps = append(v.Steps, line)
	}
	step, ok := s.Step()
	if !ok {
		v.Todo = "The test has ended."
		return v
	}
	v.Step, v.Number, v.Todo, v.Waiting = step, s.rec.Next+1, step.Todo(sys, &s.rec.Pump), s.why
	if step.Kind == Inlet && len(s.rec.of(Inlet)) == 0 {
		v.Todo = "Hold the outlet at " + fine(units.Pressure, sys, 0.75*s.rec.Pump.PressurePa) + " with the valve in the inlet wide open."
	}
	if v.Halted = s.halted; v.Halted {
		return v
	}
	v.NeedsWord = step.Kind == Own && !s.ready && !s.handsOff
	v.NeedsValue = step.Kind.entered()
	if v.Quantity = units.FlowRate; step.Kind == Reference {
		v.Quantity = units.Pressure
	}
	if n := len(s.win.t); n > 1 {
		v.CollectedS = min((s.win.t[n-1] - s.win.t[0]).Seconds(), step.WindowS)
	}
	v.CanTake, v.CanSkip, v.CanBack = !v.NeedsValue && v.CollectedS > 5, true, s.rec.Next > 0
	return v
}
