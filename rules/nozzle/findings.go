package nozzle

// Finding is the leading explanation of a flow and an outlet pressure.
type Finding uint8

// The findings. The zero value means that nothing was judged.
const (
	// InputUnknown: a reading or the expectation is missing or out of range.
	InputUnknown Finding = iota
	// AsExpected: flow and pressure fit the nozzle.
	AsExpected
	// Worn: too much flow for the pressure; worn, loose or the wrong size.
	Worn
	// Blocked: too much pressure for the flow, partly or wholly blocked.
	Blocked
	// Burst: full flow without pressure; hose burst, hose off or nozzle lost.
	Burst
	// Dumping: the unloader lets the pump's water pass back at low pressure.
	Dumping
	// NotSpraying: no flow through the nozzle to judge it by (trigger closed,
	// unloader in bypass, pump at rest); no fault of the nozzle is claimed.
	NotSpraying
	// CannotTell: more than one explanation fits and none leads; Candidates
	// holds them and Needs what would decide.
	CannotTell
)

// String returns the finding as a stable key.
func (f Finding) String() string {
	names := [...]string{"input_unknown", "as_expected", "nozzle_worn", "nozzle_blocked",
		"hose_burst", "unloader_dumping", "not_spraying", "cannot_tell"}
	if int(f) < len(names) {
		return names[f]
	}
	return "unknown"
}

// Candidates is the set of explanations that fit.
type Candidates uint8

// The members of the set.
const (
	// MayBeWorn: nozzle worn, loose or too large.
	MayBeWorn Candidates = 1 << iota
	// MayBeBlocked: nozzle partly or wholly blocked, or too small.
	MayBeBlocked
	// MayBeBurst: hose burst or off, or nozzle lost.
	MayBeBurst
	// MayBeDumping: unloader in bypass, wholly or in part.
	MayBeDumping
	// MayBeLeaking: water lost between the meter and the nozzle.
	MayBeLeaking
	// MayBeClosed: trigger closed.
	MayBeClosed
	// MayBeStopped: pump at rest or without water.
	MayBeStopped
	// MayBeFine: nothing wrong.
	MayBeFine
)

// Has tells whether all of c is in the set.
func (s Candidates) Has(c Candidates) bool { return s&c == c }

// Needs is the set of facts that would narrow the candidates.
type Needs uint8

// The members of the set.
const (
	// NeedTrigger: is the trigger open?
	NeedTrigger Needs = 1 << iota
	// NeedUnloader: is the unloader in bypass?
	NeedUnloader
	// NeedMeter: does the flow meter see the water of the bypass?
	NeedMeter
	// NeedLook: no sensor tells; look at nozzle and hose.
	NeedLook
	// NeedBetterReading: the sensors' tolerance is wider than the limits.
	NeedBetterReading
)

// Has tells whether all of n is in the set.
func (s Needs) Has(n Needs) bool { return s&n == n }

// Trigger is the state of the spray gun or foot valve.
type Trigger uint8

// The states; a machine without the sensor has TriggerUnknown.
const (
	TriggerUnknown Trigger = iota
	TriggerOpen
	TriggerClosed
)

// Unloader is the state of the unloader valve.
type Unloader uint8

// The states; a machine without the sensor has UnloaderUnknown.
const (
	UnloaderUnknown Unloader = iota
	// UnloaderLoaded: all water goes to the nozzle line.
	UnloaderLoaded
	// UnloaderBypassing: water goes back at low pressure.
	UnloaderBypassing
)

// Meter says which water the flow meter sees.
type Meter uint8

// The places of the meter.
const (
	// MeterUnknown is treated like MeterPump, which excludes less.
	MeterUnknown Meter = iota
	// MeterPump: all of the pump's water, the bypass included.
	MeterPump
	// MeterJet: only what leaves toward the nozzle; a meter in the supply
	// hose with the bypass going back behind it sees this.
	MeterJet
)

// Facts is what else is known at the moment of the reading.
type Facts struct {
	Trigger  Trigger
	Unloader Unloader
	Meter    Meter
}
