package calibrate

import (
	"slices"

	"headroom/rules/frame"
)

// View is all that a terminal or a page needs to show a dialogue.
type View struct {
	// Step where it stands, and what to do now, in words.
	Step Step
	Todo string
	// Live is the steadiness of the present reading; Status is the sensor's.
	Live   Steadiness
	Status frame.Status
	// Calibration so far: method, points, margin.
	Calibration Calibration
	// Doubts to look at in the review.
	Doubts []string
	// Problem is why the last save failed, empty if none did.
	Problem string
	// CanTake, CanEnd, CanBack and CanSave say which buttons work.
	CanTake, CanEnd, CanBack, CanSave bool
}

var todo = [...]string{
	ChooseMethod: "Choose a method: none (checked, nothing to correct), zero, two-point or table.",
	TakeLow:      "Bring the sensor to the low point, wait until the reading is steady, then enter what the reference shows.",
	TakeHigh:     "Bring the sensor to the next higher point, wait until the reading is steady, then enter what the reference shows.",
	Review:       "Look at the points and the questions below, then save with your name and the reference used, or go back.",
	Saving:       "Saving.",
	Done:         "Saved.",
	Cancelled:    "Cancelled. The calibration before stays in use.",
}

// View returns what to show.
func (d Dialogue) View() View {
	v := View{Step: d.step, Todo: todo[d.step], Status: d.status, Problem: d.problem, Calibration: d.Result()}
	if !d.ready {
		v.Todo = "No calibration under way."
		return v
	}
	v.Live = d.window.Judge(d.setup.Tolerance)
	taking := d.step == TakeLow || d.step == TakeHigh
	least, _, _ := d.result.Method.counts()
	v.CanTake = taking && v.Live.Steady
	v.CanEnd = d.step == TakeHigh && len(d.result.Points) >= least
	v.CanBack = taking || d.step == Review
	v.CanSave = d.step == Review
	if d.step == Review {
		v.Doubts = d.result.Doubts()
	}
	return v
}

// Result returns the calibration as far as it goes; whole from Saving on.
func (d Dialogue) Result() Calibration {
	c := d.result
	c.Points = slices.Clone(c.Points)
	return c
}

// Step returns where the dialogue stands.
func (d Dialogue) Step() Step { return d.step }

// Channel returns which channel is being calibrated.
func (d Dialogue) Channel() frame.Channel { return d.setup.Channel }

// Active reports that a calibration is under way, so that the channel's status
// must be Checking.
func (d Dialogue) Active() bool { return d.ready && d.step < Done }
