package supply

// Status says whether a test can be used, and if not, why.
type Status uint8

// The states of a test. The zero value is not OK: nothing was evaluated.
const (
	// InputUnknown: a reading is missing or not a finite number, or the count
	// of flowing readings isn't 1 or 2.
	InputUnknown Status = iota
	// OK: the readings agree with each other and the result holds.
	OK
	// OutOfRange: a reading or a tolerance lies outside the package's range.
	OutOfRange
	// StaticNotPositive: no static pressure above the sensor's tolerance; the
	// tap is shut, the hose is empty or the sensor is wrong.
	StaticNotPositive
	// FlowNotPositive: a flowing reading without flow.
	FlowNotPositive
	// FlowingAboveStatic: a flowing pressure above the static one.
	FlowingAboveStatic
	// FlowingBelowZero: the inlet was sucked below the atmosphere, so the hose
	// may have collapsed; take less flow.
	FlowingBelowZero
	// DropUnresolved: the drop is no larger than the sensor's tolerance; take
	// more flow.
	DropUnresolved
	// PressureRisesWithFlow: the larger flow came with the larger pressure.
	PressureRisesWithFlow
	// ReadingsDisagree: the same flow came with two pressures.
	ReadingsDisagree
)

// String returns the status as a stable key for logs and translations.
func (s Status) String() string {
	names := [...]string{"input_unknown", "ok", "out_of_range", "static_not_positive",
		"flow_not_positive", "flowing_above_static", "flowing_below_zero",
		"drop_unresolved", "pressure_rises_with_flow", "readings_disagree"}
	if int(s) < len(names) {
		return names[s]
	}
	return "unknown"
}

// Repeat is the set of readings that must be taken again.
type Repeat uint8

// The members of the set; MoreFlow and LessFlow say how to take them.
const (
	// RepeatStatic: take the reading without flow again.
	RepeatStatic Repeat = 1 << iota
	// RepeatFirst: take the first flowing reading again.
	RepeatFirst
	// RepeatSecond: take the second flowing reading again.
	RepeatSecond
	// MoreFlow: open further for the named reading.
	MoreFlow
	// LessFlow: open less for the named reading.
	LessFlow
)

// Has tells whether all of r is in the set.
func (s Repeat) Has(r Repeat) bool { return s&r == r }

// Flags are doubts that weaken a result without voiding it.
type Flags uint16

// The doubts.
const (
	// WeakDrop: the residual drop is below 10 % of the static pressure, the
	// least that NFPA 291 4.4.6 asks for.
	WeakDrop Flags = 1 << iota
	// Extrapolated: the available flow lies above the largest tested flow.
	Extrapolated
	// FlowsTooClose: two flowing readings, but too alike to give an exponent.
	FlowsTooClose
	// ExponentOdd: the fitted exponent lies outside 1 (laminar) to 2 (fully
	// rough) by more than its tolerance: something else drew water, or a valve
	// or regulator moved between the readings.
	ExponentOdd
	// UncertaintyUnknown: the tolerance could not be carried through, since
	// readings moved by their tolerances give no curve.
	UncertaintyUnknown
	// ToleranceMissing: no tolerance was stated for the pressure or for the
	// flow; a sensor without error does not exist.
	ToleranceMissing
	// StaticBelowWanted: even without flow the pressure is below the wanted
	// inlet pressure, so the available flow is 0.
	StaticBelowWanted
)

// Has tells whether all of f is set.
func (s Flags) Has(f Flags) bool { return s&f == f }

// Verdict answers whether the supply is enough.
type Verdict uint8

// The verdicts.
const (
	// VerdictUnknown: nothing could be said.
	VerdictUnknown Verdict = iota
	// Yes: enough even by the lower curve and the worst of the tolerance.
	Yes
	// Marginal: the answer lies inside the spread and the tolerance, or the
	// test doesn't reach far enough to tell.
	Marginal
	// No: too little even by the higher curve and the best of the tolerance.
	No
)

// String returns the verdict as a stable key.
func (v Verdict) String() string {
	names := [...]string{"unknown", "yes", "marginal", "no"}
	if int(v) < len(names) {
		return names[v]
	}
	return "unknown"
}
