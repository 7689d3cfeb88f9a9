package engine

import (
	"time"

	"headroom/rules/machine"
)

// Exposure is how long and how far a rule's value was beyond its limits.
type Exposure struct {
	// BeyondWarnS and BeyondActS are seconds beyond each limit, counted from
	// the value itself and not from the alarm, so without delays.
	BeyondWarnS, BeyondActS float64
	// Severity is the distance beyond the outermost limit times the seconds,
	// in the rule's difference quantity times s: for example K s over the
	// temperature limit.
	Severity float64
	// WatchedS is how long the rule judged, BlindS how long it should have
	// and couldn't.
	WatchedS, BlindS float64
	// AssumedS is how long of WatchedS a figure behind the verdict was neither
	// measured nor on a plate.
	AssumedS float64
	// WorstShare and WorstHeadroom are the least headroom seen, at WorstAt;
	// valid when Seen.
	WorstShare, WorstHeadroom float64
	WorstAt                   time.Duration
	Seen                      bool
}

// Totals add up over a run, or over a whole recording.
type Totals struct {
	// Frames counts steps, Rejected those whose time did not move on, and Gaps
	// the pauses too long to bridge.
	Frames, Rejected, Gaps uint64
	// InStateS is the time in each state of the machine.
	InStateS [machine.NumStates]float64
	// Starts of the pump.
	Starts uint64
	// WaterM3 drawn from the supply, over good flow readings, and FlowS how long
	// there were any: 0 where nothing measured the water.
	WaterM3, FlowS float64
	// EnergyJ is apparent electric energy, V times A times s, over good
	// readings of both; where only current is fitted it stays 0.
	EnergyJ float64
	// Exposures by rule.
	Exposures [NumRules]Exposure
	// Annunciated counts how often an alarm began to call for a person:
	// consequences under their cause, and what is put aside, don't count.
	Annunciated uint64
	// Raised counts each alarm.
	Raised [NumAlarms]uint64
	// FirstOut is the first alarm that was ever raised; valid when HasFirst.
	FirstOut AlarmID
	HasFirst bool
}
