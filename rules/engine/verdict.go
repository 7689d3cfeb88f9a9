package engine

import (
	"time"

	"headroom/rules/alarm"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/trend"
	"headroom/rules/units"
)

// Judge says whether a rule could judge in this frame, and if not, why. The
// zero value is NotFitted, so that a verdict nobody filled never reads as OK.
type Judge uint8

// The judges. Only Watching carries a headroom.
const (
	// NotFitted: a channel the rule needs isn't fitted: not watching.
	NotFitted Judge = iota
	// NotSet: a figure of the machine that the rule needs is not in the config.
	NotSet
	// SwitchedOff: the config switches the rule off.
	SwitchedOff
	// NotNow: the rule doesn't apply in this state of the machine.
	NotNow
	// NoReading: a channel the rule needs is fitted but not good. Unknown is
	// not OK.
	NoReading
	// StateUnknown: what the machine is doing can't be told.
	StateUnknown
	// OutsideModel: the inputs are outside the range of the physics.
	OutsideModel
	// Learning: the rule is still learning what is normal.
	Learning
	// Watching: the rule has judged.
	Watching
	// MayTripLater and MayTripNow: at this load the standard lets some breakers
	// trip, in a while or at any moment, and others hold for ever. That is an
	// answer, but no number. They come last since judges stand in recordings.
	MayTripLater
	MayTripNow
	// MayBypass: the flow is less than the baseline's, and the unloader may pass
	// back what is missing: nothing is said of wear.
	MayBypass

	numJudges
)

var judgeNames = [numJudges]string{
	"not_fitted", "not_set", "switched_off", "not_now", "no_reading", "state_unknown",
	"outside_model", "learning", "watching", "may_trip_later", "may_trip_now", "may_bypass",
}

var judgeWords = [numJudges]string{
	"not watching: sensor not fitted", "not watching: figure missing in the config", "switched off",
	"not needed in this state", "cannot judge: no good reading", "cannot judge: machine state unknown",
	"cannot judge: a reading is outside the range of the physics", "still learning what is normal", "watching",
	"may trip after a while at this load, or hold: the standard allows both",
	"may trip at any moment at this load, or hold: the standard allows both",
	"not told from here: the unloader may pass water back",
}

// String returns the answer as it stands in recordings and metrics.
func (j Judge) String() string {
	if j >= numJudges {
		return "unknown_judge"
	}
	return judgeNames[j]
}

// Words returns the answer for people.
func (j Judge) Words() string {
	if j >= numJudges {
		return "unknown"
	}
	return judgeWords[j]
}

// Answers reports whether the rule has an answer, with or without a number.
func (j Judge) Answers() bool { return j == Watching || j == MayTripLater || j == MayTripNow }

// Blind reports whether the rule should be judging but can't: the kind of not
// knowing that a person must be told of.
func (j Judge) Blind() bool { return j == NoReading || j == StateUnknown || j == OutsideModel }

// Term names a quantity that a rule used, measured or computed.
type Term uint8

// The terms.
const (
	TermInlet Term = iota
	TermWaterTemp
	TermFlow
	TermCurrent
	TermOutlet
	TermSpeed
	TermAirPressure
	TermVapourPressure
	TermNPSHA
	TermNPSHR
	TermExpectedFlow
	TermCircuitRating
	TermHeatRate
	TermTankLevel
	TermNormal
	TermSpread
	TermPulse
	TermTempHeadroom
	TermInletAtLimit
	TermTurnDown
	TermContinuousIn
	TermLatestTrip
	TermRatedCurrent
	TermVoltage
	TermCordDrop
	TermExpectedOutlet
	TermAirTemp
	TermEfficiency
	TermBaseline
	TermCurrentAtLeast
	TermHeatAtLeast
	TermEarliestTrip
	TermHeatLevel

	numTerms
)

type termInfo struct {
	name, label string
	quantity    units.Quantity
}

var terms = [numTerms]termInfo{
	TermInlet:          {"inlet_pressure", "inlet pressure", units.Pressure},
	TermWaterTemp:      {"water_temp", "water temperature", units.Temperature},
	TermFlow:           {"flow", "flow", units.FlowRate},
	TermCurrent:        {"motor_current", "motor current", units.Current},
	TermOutlet:         {"outlet_pressure", "outlet pressure", units.Pressure},
	TermSpeed:          {"shaft_speed", "shaft speed", units.Speed},
	TermAirPressure:    {"air_pressure", "air pressure", units.Pressure},
	TermVapourPressure: {"vapour_pressure", "vapour pressure", units.Pressure},
	TermNPSHA:          {"npsh_available", "NPSH available", units.Head},
	TermNPSHR:          {"npsh_required", "NPSH required", units.Head},
	TermExpectedFlow:   {"expected_flow", "flow the pump must draw", units.FlowRate},
	TermCircuitRating:  {"circuit_rating", "circuit rating", units.Current},
	TermHeatRate:       {"heat_rate", "heating per minute", units.TemperatureDifference},
	TermTankLevel:      {"tank_level", "tank level", units.Fraction},
	TermNormal:         {"own_normal", "own normal", units.None},
	TermSpread:         {"own_spread", "own spread", units.None},
	TermPulse:          {"acceleration_head", "head the pulse takes", units.Head},
	TermTempHeadroom:   {"temperature_headroom", "warmer by, until the margin is gone", units.TemperatureDifference},
	TermInletAtLimit:   {"inlet_pressure_at_limit", "inlet pressure where the margin is gone", units.Pressure},
	TermTurnDown:       {"turn_down", "turn the unloader down by", units.Pressure},
	TermContinuousIn:   {"continuous_in", "counts as a continuous load in", units.Duration},
	TermLatestTrip:     {"latest_trip", "breaker trips at the latest in", units.Duration},
	TermRatedCurrent:   {"rated_current", "rated current", units.Current},
	TermVoltage:        {"motor_voltage", "voltage at the motor", units.Voltage},
	TermCordDrop:       {"cord_drop", "lost in the cord", units.Voltage},
	TermExpectedOutlet: {"expected_outlet", "outlet pressure this flow should need", units.Pressure},
	TermAirTemp:        {"air_temp", "air temperature", units.Temperature},
	TermEfficiency:     {"volumetric_efficiency", "volumetric efficiency", units.Fraction},
	TermBaseline:       {"baseline", "own baseline", units.Fraction},
	TermCurrentAtLeast: {"motor_current_at_least", "motor current, at least", units.Current},
	TermHeatAtLeast:    {"motor_heat_at_least", "motor heat not known yet, at least", units.Fraction},
	TermEarliestTrip:   {"earliest_trip", "breaker trips at the earliest in", units.Duration},
	TermHeatLevel:      {"heat_level", "levels off at this current at", units.Fraction},
}

// String returns the term's name in recordings.
func (t Term) String() string {
	if t >= numTerms {
		return "unknown_term"
	}
	return terms[t].name
}

// Label returns the term for people.
func (t Term) Label() string {
	if t >= numTerms {
		return "unknown"
	}
	return terms[t].label
}

// Quantity returns the term's quantity.
func (t Term) Quantity() units.Quantity {
	if t >= numTerms {
		return units.None
	}
	return terms[t].quantity
}

// Used is one quantity that a rule used, in SI. Assumed marks a figure that
// was neither measured nor on the plate.
type Used struct {
	Term    Term
	Value   float64
	Assumed bool
}

// maxUsed is the most quantities one rule names.
const maxUsed = 9

// Verdict is what one rule says about one frame. All rules have this shape.
type Verdict struct {
	Rule  RuleID
	Judge Judge
	// Blame is the channel that keeps the rule from judging; NumChannels when
	// none does.
	Blame frame.Channel
	// Lacks is the config's key of the missing figure; only with NotSet, and
	// empty where the config knows no single one.
	Lacks string
	// About is the channel that the verdict speaks of, where a rule watches
	// more than one; NumChannels otherwise.
	About frame.Channel
	// Value and Limit in the rule's quantity, SI. Limit is the outermost limit
	// that is set.
	Value, Limit float64
	// Headroom is the distance to the limit, positive inside, in the rule's
	// difference quantity, SI.
	Headroom float64
	// Share is the headroom as a share of the rule's span: 1 or more is ample,
	// 0 is at the limit.
	Share float64
	// TimeToS is the time until the limit at the present trend, in seconds,
	// with the earliest and the latest; valid when Sure isn't trend.None.
	TimeToS, EarliestS, LatestS float64
	Sure                        trend.Sure
	// Level is the severity after the delays: that of the highest standing
	// alarm of this rule.
	Level Level
	// Cause is the likeliest reason, where the rule can tell several apart.
	Cause Cause
	// Assumed is true where a figure behind the verdict is an assumption.
	Assumed bool

	used [maxUsed]Used
	n    uint8
	// warnAtMost keeps the second stage out: the value is beyond it for a
	// reason that it isn't meant for.
	warnAtMost bool
	// borneOut is the part of Value that the readings bear out, where the rest
	// is supposed. What is only supposed is shown, raises no alarm, and keeps
	// one that stands from going back.
	borneOut float64
	supposed bool
}

// supposedAt reports whether the value lies at a limit only as supposed.
func (v *Verdict) supposedAt(limit float64) bool { return v.supposed && v.borneOut < limit }

// Used returns the quantities the rule used, in order of importance.
func (v *Verdict) Used() []Used { return v.used[:v.n] }

func (v *Verdict) use(t Term, value float64) { v.useMaybe(t, value, false) }

func (v *Verdict) useMaybe(t Term, value float64, assumed bool) {
	if v.n < maxUsed {
		v.used[v.n] = Used{t, value, assumed}
		v.n++
	}
	v.Assumed = v.Assumed || assumed
}

// Why says in words whether the rule could judge, and if a figure is missing,
// which key of the config to write.
func (v *Verdict) Why() string {
	if v.Judge == NotSet && v.Lacks != "" {
		return v.Judge.Words() + ": write " + v.Lacks
	}
	return v.Judge.Words()
}

// cannot makes the verdict one that could not judge.
func (v *Verdict) cannot(j Judge, blame frame.Channel) {
	*v = Verdict{Rule: v.Rule, Judge: j, Blame: blame, About: frame.NumChannels, Limit: v.Limit}
}

// AlarmID names an alarm: two stages for each rule, then one for each channel.
type AlarmID uint8

// NumAlarms is the number of alarms.
const NumAlarms = 2*int(NumRules) + int(frame.NumChannels)

// WarnAlarm is the rule's first stage.
func WarnAlarm(r RuleID) AlarmID { return AlarmID(2 * r) }

// ActAlarm is the rule's second stage.
func ActAlarm(r RuleID) AlarmID { return AlarmID(2*r + 1) }

// SensorAlarm is the alarm that a channel's sensor can't be trusted.
func SensorAlarm(c frame.Channel) AlarmID { return AlarmID(2*int(NumRules) + int(c)) }

// Rule returns the alarm's rule; ok is false for a sensor's alarm.
func (a AlarmID) Rule() (r RuleID, ok bool) {
	if int(a) < 2*int(NumRules) {
		return RuleID(a / 2), true
	}
	return NumRules, false
}

// Channel returns the alarm's channel; ok is false for a rule's alarm.
func (a AlarmID) Channel() (c frame.Channel, ok bool) {
	if i := int(a) - 2*int(NumRules); i >= 0 && i < int(frame.NumChannels) {
		return frame.Channel(i), true
	}
	return frame.NumChannels, false
}

// Transition is one alarm going up or back.
type Transition struct {
	T     time.Duration
	Alarm AlarmID
	// Raised is true when the alarm goes up, false when it goes back.
	Raised bool
	Level  Level
	// Onset is when the condition began, before the delay.
	Onset time.Duration
	// First is true when no other alarm stood: the first-out of its group.
	First bool
	// Phase is where the alarm's life stands after the step, and Under the
	// cause it stands under; valid when HasCause.
	Phase    alarm.Phase
	Under    AlarmID
	HasCause bool
	// Machine is what the machine was doing.
	Machine machine.State
	// Value of the rule at that moment and limit of the stage, SI; 0 for a
	// sensor's alarm.
	Value, Limit float64
	// Assumed is true where a figure behind the value is an assumption.
	Assumed bool
	// Status of the sensor, for a sensor's alarm.
	Status frame.Status
}

// Verdicts is the whole outcome of one step.
type Verdicts struct {
	T time.Duration
	// Machine is what the machine is doing, since MachineSince.
	Machine      machine.State
	MachineSince time.Duration
	// Samples are the channels as the rules saw them: filtered, and with the
	// statuses that the engine itself found.
	Samples [frame.NumChannels]frame.Sample
	Rules   [NumRules]Verdict
	// Alarms says which alarms stand.
	Alarms [NumAlarms]Standing
	// Evidence are the signs that the cavitation rule weighed in this frame.
	Evidence Evidence
	// Level is the highest standing level.
	Level Level
	// Calling counts the alarms that ask for a person; Flood says that more
	// came lately than anybody can take in.
	Calling int
	Flood   bool
	// Blind counts the rules that should judge and can't.
	Blind int
	// Gap is true when the time since the last frame was too long to bridge.
	Gap bool

	changes [NumAlarms]Transition
	n       int
}

// CallLevel is how loud the alarms that ask for a person are, by the highest
// level among them; Normal where none asks. What is over and only waits to be
// acknowledged is no more than Advice. It differs from Level where the worst
// that stands was acknowledged: a horn that repeats what somebody already knows
// teaches people to ignore it.
func (v *Verdicts) CallLevel() Level {
	loudest := Normal
	for i := range v.Alarms {
		a := &v.Alarms[i]
		switch {
		case !a.Phase.Calls():
		case a.Active:
			loudest = max(loudest, a.Level)
		default:
			loudest = max(loudest, Advice)
		}
	}
	return loudest
}

// Standing is one alarm's state after a step. A list for people holds those
// whose Phase isn't normal, with those that have a cause under it.
type Standing struct {
	// Active: the condition stands, since Since; it began at Onset. For an
	// alarm that has gone back but is still of concern, Since is when it went.
	Active bool
	Level  Level
	Since  time.Duration
	Onset  time.Duration
	// Phase of its life, see package alarm.
	Phase alarm.Phase
	// FirstOut marks the alarm that came first of those that stand.
	FirstOut bool
	// Under is the alarm that this one is a consequence of; valid when
	// HasCause.
	Under    AlarmID
	HasCause bool
	// Chatter marks an alarm that comes and goes; it is held longer.
	Chatter bool
	// ShelvedUntil is the end of its shelving; 0 when not shelved.
	ShelvedUntil time.Duration
}

// Transitions returns the alarms that went up or back in this step.
func (v *Verdicts) Transitions() []Transition { return v.changes[:v.n] }
