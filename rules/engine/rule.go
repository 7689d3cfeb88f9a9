package engine

import (
	"headroom/rules/machine"
	"headroom/rules/units"
)

// RuleID names a rule. The numbers are stable: they stand in recordings.
type RuleID uint8

// The rules.
const (
	// InletLow: inlet pressure too low.
	InletLow RuleID = iota
	// InletHigh: inlet pressure too high for the pump's seals.
	InletHigh
	// WaterHot: water too hot for the seals.
	WaterHot
	// NPSHMargin: net positive suction head left over what the pump needs.
	NPSHMargin
	// FlowShort: flow against what the pump must draw at its speed.
	FlowShort
	// CircuitLoad: motor current against the circuit's rating.
	CircuitLoad
	// NoFlow: turning without water, a dry run or a closed supply.
	NoFlow
	// Bypass: outlet closed while turning, water going round and heating.
	Bypass
	// TankLow: the supply tank runs empty.
	TankLow
	// OutletHigh: outlet pressure above the pump's rating.
	OutletHigh
	// Departure: a channel has left this machine's own normal.
	Departure
	// Cavitation: the signs that the pump is short of water, weighed together.
	Cavitation
	// BreakerTime: how soon the breaker may trip at this load.
	BreakerTime
	// MotorHeat: used share of the motor's thermal capacity.
	MotorHeat
	// MotorVoltage: voltage at the motor too low.
	MotorVoltage
	// StartJam: a start that takes too long, or a shaft that jams.
	StartJam
	// PowerLost: switched on, and no power comes.
	PowerLost
	// Discharge: nozzle and hose against what flow and pressure should be.
	Discharge
	// Frost: water standing in the pump near freezing.
	Frost
	// Wear: volumetric efficiency against the machine's own baseline.
	Wear

	// NumRules is the number of rules.
	NumRules
)

// Spec is what never changes about a rule.
type Spec struct {
	// Name as it stands in configs, recordings and metrics.
	Name string
	// Quantity of its value and limits.
	Quantity units.Quantity
	// Difference is the quantity of its headroom.
	Difference units.Quantity
	// HighIsBad is true where the value must stay below the limit.
	HighIsBad bool
	// States in which the rule applies. A rule that needs no turning pump for
	// its words to be true applies in the unknown state too; any other then
	// says that it can't judge.
	States machine.Set
	// Pace of the quantity, for the memory of its trend.
	Pace Pace
}

// Pace is how fast a quantity can move, and so how long its trend must look.
type Pace uint8

// The paces.
const (
	// Fast quantities move in a second: pressures, flow, current.
	Fast Pace = iota
	// Slow quantities take minutes: temperatures, levels.
	Slow

	numPaces
)

// paceS is the memory of the trend in seconds, by pace. Reason: a trend must
// be seen for about its own memory before it is believed, and a starving pump
// leaves some seconds, a heating loop some minutes.
var paceS = [numPaces]float64{Fast: 2, Slow: 20}

// specs is constant data.
var specs = [NumRules]Spec{
	InletLow:    {"inlet_low", units.Pressure, units.Pressure, false, machine.In(machine.Running, machine.Bypassing), Fast},
	InletHigh:   {"inlet_high", units.Pressure, units.Pressure, true, machine.All | machine.In(machine.Unknown), Fast},
	WaterHot:    {"water_hot", units.Temperature, units.TemperatureDifference, true, machine.All&^machine.In(machine.Stopped) | machine.In(machine.Unknown), Slow},
	NPSHMargin:  {"npsh_margin", units.Head, units.Head, false, machine.In(machine.Running, machine.Bypassing), Fast},
	FlowShort:   {"flow_short", units.Fraction, units.Fraction, false, machine.In(machine.Running), Fast},
	CircuitLoad: {"circuit_load", units.Current, units.Current, true, machine.All&^machine.In(machine.Starting) | machine.In(machine.Unknown), Fast},
	NoFlow:      {"no_flow", units.FlowRate, units.FlowRate, false, machine.In(machine.Running), Fast},
	Bypass:      {"bypass", units.Duration, units.Duration, true, machine.In(machine.Bypassing), Slow},
	TankLow:     {"tank_low", units.Fraction, units.Fraction, false, machine.All | machine.In(machine.Unknown), Slow},
	OutletHigh:  {"outlet_high", units.Pressure, units.Pressure, true, machine.In(machine.Running, machine.Bypassing, machine.Unknown), Fast},
	Departure:   {"departure", units.None, units.None, true, machine.In(machine.Running), Slow},

	Cavitation:   {"cavitation", units.None, units.None, true, machine.In(machine.Running), Fast},
	BreakerTime:  {"breaker_time", units.Duration, units.Duration, false, machine.All&^machine.In(machine.Starting) | machine.In(machine.Unknown), Fast},
	MotorHeat:    {"motor_heat", units.Fraction, units.Fraction, true, machine.All | machine.In(machine.Unknown), Slow},
	MotorVoltage: {"motor_voltage", units.Voltage, units.Voltage, false, machine.In(machine.Running, machine.Bypassing), Fast},
	StartJam:     {"start_jam", units.Duration, units.Duration, true, machine.All | machine.In(machine.Unknown), Fast},
	PowerLost:    {"power_lost", units.Switch, units.None, true, machine.All | machine.In(machine.Unknown), Fast},
	Discharge:    {"discharge", units.Fraction, units.Fraction, true, machine.In(machine.Running), Fast},
	Frost:        {"frost", units.Duration, units.Duration, false, machine.In(machine.Stopped), Slow},
	Wear:         {"wear", units.Fraction, units.Fraction, false, machine.In(machine.Running), Slow},
}

// Spec returns the rule's fixed properties. Beyond NumRules it is empty.
func (r RuleID) Spec() Spec {
	if r >= NumRules {
		return Spec{}
	}
	return specs[r]
}

// String returns the rule's name.
func (r RuleID) String() string {
	if r >= NumRules {
		return "unknown_rule"
	}
	return specs[r].Name
}

// RuleByName returns the rule with that name; ok is false for none.
func RuleByName(name string) (r RuleID, ok bool) {
	for i := range specs {
		if specs[i].Name == name {
			return RuleID(i), true
		}
	}
	return NumRules, false
}

// Level is a severity. There are three besides normal, as people can tell no
// more apart in a hurry.
type Level uint8

// The levels.
const (
	// Normal: nothing to say.
	Normal Level = iota
	// Advice: look at it when you can.
	Advice
	// Warning: there is time left; use it.
	Warning
	// Act: act now.
	Act
)

var levelNames = [...]string{"normal", "advice", "warning", "act"}

var levelWords = [...]string{"Normal", "Advice", "Warning", "Act now"}

// String returns the level as it stands in recordings and metrics.
func (l Level) String() string {
	if int(l) >= len(levelNames) {
		return "unknown_level"
	}
	return levelNames[l]
}

// Words returns the level for people.
func (l Level) Words() string {
	if int(l) >= len(levelWords) {
		return "Unknown level"
	}
	return levelWords[l]
}
