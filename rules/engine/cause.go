package engine

import "headroom/rules/cavitation"

// Cause is what a rule takes for the likeliest reason behind its value, where
// the reading can tell: different causes need different actions. It is an
// indication and no finding.
type Cause uint8

// The causes.
const (
	// CauseNone: nothing is wrong, or the rule has only one cause.
	CauseNone Cause = iota
	// CauseUndetermined: something is wrong, and the readings can't tell what.
	CauseUndetermined
	CauseStarvation
	CauseAir
	CauseHotWater
	CauseWornPump
	CauseNozzleWorn
	CauseNozzleBlocked
	CauseHoseBurst
	CauseDumping
	CauseLockedRotor
	CauseJam
	// CauseUnloaderOrWear: the supply is fine and the flow is short. An outlet
	// holds flow and pressure together as a nozzle does, so the two can't tell
	// an unloader that passes water back from a pump that leaks inside.
	CauseUnloaderOrWear

	// NumCauses is the number of causes.
	NumCauses
)

var causeNames = [NumCauses]string{
	"none", "undetermined", "starvation", "air", "hot_water", "worn_pump", "nozzle_worn", "nozzle_blocked",
	"hose_burst", "unloader_dumping", "locked_rotor", "jam", "unloader_or_wear",
}

// String returns the cause's name as it stands in recordings.
func (c Cause) String() string {
	if c >= NumCauses {
		return "unknown_cause"
	}
	return causeNames[c]
}

// Sign is what one sign of cavitation says: whether it speaks, and the
// quantity that was compared with its limit, in the sign's own unit.
type Sign struct {
	State           cavitation.State
	Quantity, Limit float64
}

// Evidence holds every sign, indexed by cavitation.Item; all zero for rules
// that weigh none.
type Evidence [cavitation.NumItems]Sign
