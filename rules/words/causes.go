package words

import "headroom/rules/engine"

// causeText is what a rule's cause says and asks for. It comes after the
// alarm's own words and is more to the point where the readings can tell.
type causeText struct{ name, do string }

// causes is constant data.
var causes = [engine.NumCauses]causeText{
	engine.CauseUndetermined:   {"The readings can't tell the cause.", "Stop and look: supply, inlet filter and hose first, then air, then the pump's valves."},
	engine.CauseStarvation:     {"Looks like too little water from the supply.", "Open the tap fully, look for kinks, clean the inlet filter, use a shorter or wider hose."},
	engine.CauseAir:            {"Looks like air in the inlet.", "Tighten the inlet couplings, check their washers and the tank's level, and purge. A leak sucks air without dripping."},
	engine.CauseHotWater:       {"Looks like water too warm for this inlet pressure.", "Bring in cold water: open the trigger, or stop and let it run through."},
	engine.CauseWornPump:       {"Looks like a worn pump: the supply is fine and still it gives less.", "Look at the unloader for leaking back, then have packing and valves looked at."},
	engine.CauseUnloaderOrWear: {"The supply is fine: the unloader passes water back, or the pump is worn.", "Look whether the unloader is turned down or leaks back. Only with it shut come valves and packing."},
	engine.CauseNozzleWorn:     {"Looks like a worn or too large nozzle.", "Change the nozzle."},
	engine.CauseNozzleBlocked:  {"Looks like a blocked or too small nozzle.", "Stop, take the pressure off, and clean the nozzle's holes."},
	engine.CauseHoseBurst:      {"Looks like a burst hose or a lost nozzle.", "Stop the pump. Keep clear of the hose until the pressure is off."},
	engine.CauseDumping:        {"Looks like the unloader lets water pass back.", "Stop and have the unloader's seat and setting looked at."},
	engine.CauseLockedRotor:    {"The motor never came up to speed.", "Switch it off at once."},
	engine.CauseJam:            {"The motor ran and was then held fast.", "Switch it off at once."},
}

// Cause returns what a cause looks like and what to do about it; empty for
// none.
func Cause(c engine.Cause) (looksLike, do string) {
	if c >= engine.NumCauses {
		return "", ""
	}
	return causes[c].name, causes[c].do
}
