// Package cavitation weighs the signs that a plunger pump is short of water at
// its inlet and gives a graded verdict, the evidence that speaks for it, and
// the likeliest cause.
//
// It owns the thresholds of each sign, the rules that turn signs into a grade
// and a cause, and the ideal flow that a deficit is measured against. It keeps
// no state and looks at one moment: windows, baselines, delays and latching
// are its callers'. It refuses to call anything severe on the word of one
// instrument, to say that there is no trouble where too little is measured to
// know, and to judge a pump that is not delivering, since bypass and priming
// show the same signs.
//
// The signs fall into three classes: the conditions (is there head enough that
// water stays liquid), the effects (is less water pumped) and the noises (does
// something hammer). Wear and a slipping drive show effects alone, a bad valve
// shows noises, and cavitation from want of head shows all three; so the grade
// asks how many classes speak, and not how many numbers are bad.
package cavitation

// Grade is how sure and how bad the verdict is. The numbers are ordered by
// evidence, so CannotJudge is the lowest: it is not a grade that an operator
// may read as good.
type Grade uint8

// The grades.
const (
	// CannotJudge means that too little is known to say anything.
	CannotJudge Grade = iota
	// None means that at least two classes of signs are measured and silent.
	None
	// Possible means that something speaks, and nothing confirms it clearly.
	Possible
	// Likely means that two classes agree and one is strong, that all three
	// agree, or that the head is surely gone.
	Likely
	// Severe means that independent instruments agree and speak strongly.
	Severe
)

// String returns the grade's name.
func (g Grade) String() string {
	switch g {
	case None:
		return "none"
	case Possible:
		return "possible"
	case Likely:
		return "likely"
	case Severe:
		return "severe"
	}
	return "cannot judge"
}

// Item is one sign.
type Item uint8

// The signs.
const (
	// NPSHMargin is the head over NPSHR.
	NPSHMargin Item = iota
	// TempHeadroom is how much warmer the water may get until the margin is
	// gone.
	TempHeadroom
	// FlowDeficit is the flow that is missing against the ideal.
	FlowDeficit
	// FlowSwing is how much more the flow swings than it used to.
	FlowSwing
	// CurrentDrop is the motor current that is missing against what this
	// outlet pressure used to take.
	CurrentDrop
	// CurrentSwing is how much more the current swings than it used to.
	CurrentSwing
	// PulsationRise is how much more the inlet pressure pulses than it used to.
	PulsationRise
	// PulsationDepth is the inlet pressure's pulsation against its mean.
	PulsationDepth
	// VibrationRise is how much more the pump vibrates than it used to.
	VibrationRise

	// NumItems is the number of signs.
	NumItems = iota
)

// String returns the sign in plain words.
func (i Item) String() string {
	switch i {
	case NPSHMargin:
		return "NPSH margin"
	case TempHeadroom:
		return "water temperature"
	case FlowDeficit:
		return "flow deficit"
	case FlowSwing:
		return "erratic flow"
	case CurrentDrop:
		return "falling motor current"
	case CurrentSwing:
		return "erratic motor current"
	case PulsationRise, PulsationDepth:
		return "inlet pressure pulsation"
	case VibrationRise:
		return "vibration"
	}
	return "unknown"
}

// Unit returns the unit of the sign's quantity and thresholds: "m", "K" or "1".
func (i Item) Unit() string {
	switch i {
	case NPSHMargin:
		return "m"
	case TempHeadroom:
		return "K"
	}
	return "1"
}

// State says what a sign contributes.
type State uint8

// The states. The zero value contributes nothing.
const (
	// NotFitted means that no sensor for it is fitted.
	NotFitted State = iota
	// NoReading means that it is fitted and its value is missing, stale or
	// out of range.
	NoReading
	// Undecided means that its value is known only as a range that holds the
	// threshold.
	Undecided
	// Silent means that it is known and below its threshold.
	Silent
	// Speaks means that it is at or beyond its threshold.
	Speaks
)

// String returns the state's name.
func (s State) String() string {
	switch s {
	case NoReading:
		return "no reading"
	case Undecided:
		return "undecided"
	case Silent:
		return "silent"
	case Speaks:
		return "speaks"
	}
	return "not fitted"
}

// Finding is what one sign says.
type Finding struct {
	// Item is the sign and State what it contributes.
	Item  Item
	State State
	// Strength is 0 to 1: 0.5 at the threshold Limit.Speaks, 1 at
	// Limit.Strong; 0 where the sign has no reading.
	Strength float64
	// Quantity is the measured value in the item's unit; 0 where the sign has
	// no reading.
	Quantity float64
	// Limit is what the quantity was compared with.
	Limit Limit
}

// Reason says why a verdict is CannotJudge.
type Reason uint8

// The reasons. The zero value goes with every other grade.
const (
	// Judged means that there is a verdict.
	Judged Reason = iota
	// NotConfigured means that the rules were not made by New.
	NotConfigured
	// NotDelivering means that the pump is not delivering.
	NotDelivering
	// TooLittleKnown means that fewer than two classes of signs are measured
	// and none of them speaks.
	TooLittleKnown
)

// String returns the reason in plain words.
func (r Reason) String() string {
	switch r {
	case NotConfigured:
		return "no thresholds are set"
	case NotDelivering:
		return "the pump is not delivering"
	case TooLittleKnown:
		return "too few signs are measured"
	}
	return "judged"
}

// Verdict is the outcome for one moment.
type Verdict struct {
	// Grade is the verdict and Reachable the highest grade that the signs with
	// a reading could give: where it is below Severe, more sensors would tell
	// more.
	Grade, Reachable Grade
	// Cause is the likeliest cause; NoCause where nothing speaks.
	Cause Cause
	// Reason says why the grade is CannotJudge.
	Reason Reason
	// OnAssumption says that the margin rests on an assumed NPSHR or that only
	// its upper end is known, and the verdict with it.
	OnAssumption bool
	// Findings holds one finding for each sign, indexed by Item.
	Findings [NumItems]Finding
}

// Items is a set of signs.
type Items uint16

// Has says whether the set holds a sign.
func (s Items) Has(i Item) bool { return i < NumItems && s&(1<<i) != 0 }

// In returns the signs that are in a state: those that speak, that are silent,
// that have no reading, that are not fitted.
func (v Verdict) In(state State) Items {
	var s Items
	for i, f := range v.Findings {
		if f.State == state {
			s |= 1 << i
		}
	}
	return s
}
