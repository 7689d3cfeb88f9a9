package dashboard

import (
	"time"

	"headroom/daemon/checklist"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/calibrate"
)

// Calibrator takes people through calibrations while the drivers run. Errors
// are for people. It never waits for a sensor.
type Calibrator interface {
	// Practice says what is different from real sensors; empty for real ones.
	Practice() string
	// Cannot says why a channel can't be calibrated here; empty when it can.
	Cannot(ch frame.Channel) string
	// History returns every calibration of a channel, the oldest first; with an
	// error, what is whole of it.
	History(ch frame.Channel) ([]calibrate.Calibration, error)
	// Begin starts one, from when on the channel counts as being checked.
	Begin(ch frame.Channel, who string) error
	// View returns the one under way or just ended; ok is false without one.
	View(ch frame.Channel) (v CalibrationView, ok bool)
	// Next makes a step of the one that stands at mark; calibrate.Confirm also
	// saves it and puts it to work.
	Next(ch frame.Channel, mark string, e calibrate.Event) error
	// Undo puts the calibration before the newest in force again, and returns
	// it. mark is calibrate.Mark of the history that the person saw: it refuses
	// when that has moved.
	Undo(ch frame.Channel, mark, who string) (calibrate.Calibration, error)
}

// CalibrationView is a calibration under way, or just ended.
type CalibrationView struct {
	calibrate.View
	// Who began it and when.
	Who   string
	Began time.Time
	// Before is the calibration that was in force, nil for none.
	Before *calibrate.Calibration
	// Mark names the step, to be handed back with the next one.
	Mark string
	// Active is false once it has ended.
	Active bool
}

// Checklist keeps the list before the start and its last round; it is
// *checklist.Keeper.
type Checklist interface {
	List() (checklist.List, error)
	Default() checklist.List
	SetList(checklist.List) error
	Last() (r checklist.Round, ok bool, err error)
	SetLast(checklist.Round) error
}

// Adviser answers the questions that come before the start. Errors name the
// field and the mend.
type Adviser interface {
	Topics() []AdviceTopic
	// Advise answers a topic from its fields' texts, by name; empty texts are
	// left out.
	Advise(topic string, values map[string][]string, sys units.System) (Advice, error)
}

// AdviceTopic is one question with what it wants to know.
type AdviceTopic struct {
	Name, Help string
	Fields     []AdviceField
}

// AdviceField is one thing that a question wants to know.
type AdviceField struct {
	// Name for Advise, Label and Help for people.
	Name, Label, Help string
	// Kind is how it is filled in.
	Kind AdviceKind
	// Quantity of a measure; Unit in place of the quantity's own, empty for that.
	Quantity units.Quantity
	Unit     string
	// Choices of a choice.
	Choices []string
	// Needed is set where no answer comes without it.
	Needed bool
	// Without says what stands in where nothing is written, or Fallback does, in
	// SI; 0 for none.
	Without  string
	Fallback float64
	// Times is how often it may be given.
	Times int
}

// AdviceKind is how a field of a question is filled in.
type AdviceKind uint8

const (
	// AdviceMeasure is a number with a unit.
	AdviceMeasure AdviceKind = iota
	// AdviceReading is a flow and the pressure meanwhile, "4.1 gpm @ 48 psi".
	AdviceReading
	// AdviceCount is a bare number.
	AdviceCount
	// AdviceChoice is one of the field's choices.
	AdviceChoice
)

// Advice is an answer in sentences.
type Advice struct {
	// Verdict is a stable key, such as "yes", "marginal" or "no".
	Verdict, Headline string
	Text              []string
	// Table has its head in the first row.
	Table       [][]string
	Help, Notes []string
	Caution     string
}

// OutputTester tries the outputs and lets the machine run again after a stop.
type OutputTester interface {
	// TestOutputs lists the outputs that are configured.
	TestOutputs() []OutputState
	// HoldOutput drives an output for a moment; it is called again and again
	// while a person holds the button. press names this time that it is down,
	// empty where nothing tells; once it was released it drives nothing any more,
	// in whichever order the words come. began is true once for each press, to
	// be noted. The error says why it can't.
	HoldOutput(name, press string) (began bool, err error)
	// ReleaseOutput ends that at once.
	ReleaseOutput(name, press string)
	// ResetStop asks the stop relay to close again, as its button does.
	ResetStop() error
}

// OutputState is one output as it is commanded; an output is never read back.
type OutputState struct {
	Name, Label string
	// Commanded is its level in words, Held true while a person tries it.
	Commanded string
	Held      bool
	// Does says what holding it does; CanReset marks the stop relay, and
	// Waiting that it waits for a reset.
	Does              string
	CanReset, Waiting bool
}
