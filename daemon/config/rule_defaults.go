package config

import (
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/nozzle"
)

// delay is a time and the reason for it: how fast the damage is.
type delay struct{ time, why string }

// ruleDefault is what one rule gets where a file is silent, and what the
// checks need to know about it. Texts are as written in a file.
type ruleDefault struct {
	// on by default; auto rules decide by themselves when the file is silent.
	on, auto bool
	// warn and act limits; empty for a stage that isn't there.
	warn, act string
	// latch keeps the act stage until a person resets it, for the reason
	// beside it.
	latch    bool
	latchWhy string
	// advice makes the warn stage an advice.
	advice bool
	// span and deadband.
	span, deadband string
	// lo and hi are the range a limit may have, SI; both 0 for none.
	lo, hi float64
	// warnHi is the end of warn's range where the physics behind the rule takes
	// less there than at act; 0 for hi.
	warnHi float64
	// shareOf is the key that limits may be a percentage of.
	shareOf                      string
	warnDelay, actDelay, offTime delay
	// needs are the channels that must all be fitted, either those of which
	// one must be, plate the keys that must be known.
	needs, either []frame.Channel
	plate         []string
	// direct rules judge the value of their one channel itself, so a limit
	// outside the channel's band could never be reached.
	direct bool
	// doc is for people, source for the limits.
	doc, source string
}

// ruleDefaults is the one place for a rule's defaults: a new rule of the
// engine needs an entry here and nothing else in this package. Without one it
// is off and has no limits.
var ruleDefaults = [engine.NumRules]ruleDefault{
	engine.InletLow: {
		on: true, warn: "70 kPa", act: "20 kPa", span: "200 kPa", deadband: "5 kPa", lo: -101325, hi: 2e6, direct: true,
		warnDelay: delay{"1 s", "a starving pump wears in seconds; a pulse of the valves is shorter"},
		actDelay:  delay{"1 s", "for the same reason"},
		offTime:   delay{"2 s", "a hose that is stood on comes and goes"},
		needs:     []frame.Channel{frame.InletPressure},
		doc:       "Inlet pressure too low, gauge: the pump is about to starve.", source: practice,
	},
	engine.InletHigh: {
		on: true, warn: "620 kPa", act: "690 kPa", span: "400 kPa", deadband: "10 kPa", lo: 0, hi: 2e6, direct: true,
		warnDelay: delay{"1 s", "seals stand a water hammer of a fraction of a second, not a steady pressure"},
		actDelay:  delay{"1 s", "for the same reason"},
		offTime:   delay{"1 s", "tap pressure is steady"},
		needs:     []frame.Channel{frame.InletPressure},
		doc:       "Inlet pressure too high for the pump's seals, gauge: supply at most 100 psi (690 kPa).", source: practice,
	},
	engine.WaterHot: {
		on: true, warn: "52 °C", act: "60 °C", span: "40 K", deadband: "1 K", lo: 273.15, hi: 373.15, direct: true,
		warnDelay: delay{"3 s", "seals soften over minutes; the thermometer itself takes seconds"},
		actDelay:  delay{"3 s", "for the same reason"},
		offTime:   delay{"3 s", "for the same reason"},
		needs:     []frame.Channel{frame.WaterTemp},
		doc:       "Water too hot for the seals: inlet water at most 140 °F (60 °C).", source: practice,
	},
	engine.NPSHMargin: {
		on: true, warn: "2 m", act: "0.5 m", span: "8 m", deadband: "0.3 m", lo: -10, hi: 50,
		warnDelay: delay{"1 s", "cavitation pits in minutes, but a starved pump runs dry in seconds"},
		actDelay:  delay{"1 s", "for the same reason"},
		offTime:   delay{"1 s", "for the same reason"},
		needs:     []frame.Channel{frame.InletPressure, frame.WaterTemp},
		plate:     []string{"machine.npsh_assumed"},
		doc:       "Net positive suction head left over what the pump needs.", source: practice,
	},
	engine.FlowShort: {
		on: true, warn: "90 %", act: "75 %", span: "25 %", deadband: "3 %", lo: 0.05, hi: 1.2,
		warnDelay: delay{"2 s", "the flow meter counts for a second, and a worn valve or air harms in minutes"},
		actDelay:  delay{"2 s", "for the same reason"},
		offTime:   delay{"2 s", "for the same reason"},
		needs:     []frame.Channel{frame.Flow},
		plate:     []string{"machine.displacement", "machine.rated_speed"},
		doc:       "Flow against what the pump must draw at its speed.", source: practice,
	},
	engine.CircuitLoad: {
		on: true, warn: "80 %", act: "100 %", span: "10 A", deadband: "0.3 A", lo: 0, hi: 1000, shareOf: "circuit.rating", direct: true,
		warnDelay: delay{"10 s", "a start and a passing load are shorter; a breaker takes minutes at this current"},
		actDelay:  delay{"3 s", "over the rating wires heat in minutes, so a start may pass"},
		offTime:   delay{"3 s", "for the same reason"},
		needs:     []frame.Channel{frame.MotorCurrent},
		doc:       "Motor current against the circuit: an amount, or a share of circuit.rating. A load that lasts is kept to 80 % of the rating.", source: practice,
	},
	engine.NoFlow: {
		on: true, act: "8 %", span: "50 %", deadband: "2 %", lo: 0, hi: 0.02, shareOf: "machine.rated_flow", direct: true,
		warnDelay: delay{"0 s", "no such stage: there is no time left"},
		actDelay:  delay{"1 s", "a dry pump scores its plungers in seconds"},
		offTime:   delay{"1 s", "for the same reason"},
		needs:     []frame.Channel{frame.Flow},
		doc:       "Turning without water, a dry run or a closed supply: a flow, or a share of machine.rated_flow.", source: practice,
	},
	engine.Bypass: {
		on: true, warn: "60 s", act: "180 s", span: "180 s", deadband: "0 s", lo: 0, hi: 86400,
		warnDelay: delay{"0 s", "the value is itself a time"},
		actDelay:  delay{"0 s", "for the same reason"},
		offTime:   delay{"0 s", "opened is opened"},
		either:    []frame.Channel{frame.Flow, frame.Trigger},
		doc:       "How long the outlet has been closed while the pump turns: the water goes round and heats.", source: practice,
	},
	engine.TankLow: {
		on: true, warn: "25 %", act: "10 %", span: "50 %", deadband: "2 %", lo: 0, hi: 1, direct: true,
		warnDelay: delay{"5 s", "a trailer that sways; a tank lasts minutes"},
		actDelay:  delay{"5 s", "for the same reason"},
		offTime:   delay{"5 s", "for the same reason"},
		needs:     []frame.Channel{frame.TankLevel},
		doc:       "The supply tank runs empty.", source: practice,
	},
	engine.OutletHigh: {
		on: true, warn: "105 %", act: "115 %", span: "30 %", deadband: "2 %", lo: 0, hi: 60e6, shareOf: "machine.rated_pressure", direct: true,
		warnDelay: delay{"1 s", "a spike of the unloader is shorter; parts tire with every second above the rating"},
		actDelay:  delay{"1 s", "for the same reason"},
		offTime:   delay{"1 s", "for the same reason"},
		needs:     []frame.Channel{frame.OutletPressure},
		doc:       "Outlet pressure above the rating, gauge: a pressure, or a share of machine.rated_pressure. No substitute for a relief valve.", source: practice,
	},
	engine.Departure: {
		auto: true, warn: "4", advice: true, span: "4", deadband: "1", lo: 0.5, hi: 100,
		actDelay:  delay{"0 s", "no such stage: a departure alone is never an emergency"},
		warnDelay: delay{"5 s", "half of the window: a change that matters stays"},
		offTime:   delay{"5 s", "a change back must stay as long"},
		doc:       "A channel has left this machine's own normal, in standard deviations. On by itself as soon as normal.learn is set.", source: practice,
	},

	engine.Cavitation: {
		on: true, warn: "3", act: "4", span: "3", deadband: "0.5", lo: 1, hi: 4,
		warnDelay: delay{"2 s", "pitting takes minutes; one second of noise is no evidence"},
		actDelay:  delay{"2 s", "for the same reason"},
		offTime:   delay{"2 s", "for the same reason"},
		either:    []frame.Channel{frame.InletPressure, frame.Flow},
		doc:       "Signs that the pump is short of water, weighed together, as a grade: 1 none, 2 possible, 3 likely, 4 severe.", source: practice,
	},
	engine.BreakerTime: {
		on: true, warn: "10 s", act: "5 s", span: "60 s", deadband: "2 s", lo: 0, hi: 3599,
		warnDelay: delay{"1 s", "the value is itself a time that is left; a start's current may pass"},
		actDelay:  delay{"1 s", "for the same reason"},
		offTime:   delay{"2 s", "load that swings"},
		needs:     []frame.Channel{frame.MotorCurrent}, plate: []string{"circuit.rating", "circuit.standard"},
		doc: "How soon the breaker trips at a load that it must trip at: the time of the quickest that its standard allows, which is under half a minute. Loads below are the circuit rule's.", source: practice,
	},
	engine.MotorHeat: {
		on: true, warn: "85 %", act: "100 %", span: "50 %", deadband: "2 %", lo: 0.05, hi: 1.2,
		warnDelay: delay{"1 s", "the value moves over minutes by itself"},
		actDelay:  delay{"1 s", "for the same reason"},
		offTime:   delay{"2 s", "for the same reason"},
		needs:     []frame.Channel{frame.MotorCurrent}, plate: []string{"motor.rated_current", "motor.trip_class"},
		doc: "Used share of the motor's thermal capacity: at 100 % its overload relay trips. Where warn isn't written and the rated current alone comes to 80 % or more, as with a service factor of 1, warn lies halfway between that and act.", source: practice,
	},
	engine.MotorVoltage: {
		on: true, warn: "92.5 %", act: "90 %", span: "10 %", deadband: "1 %", lo: 0, hi: 1000, shareOf: "motor.voltage",
		warnDelay: delay{"2 s", "a start's dip is shorter; a motor overheats in minutes at low voltage"},
		actDelay:  delay{"2 s", "for the same reason"},
		offTime:   delay{"2 s", "for the same reason"},
		either:    []frame.Channel{frame.SupplyVoltage, frame.MotorCurrent}, plate: []string{"motor.voltage"},
		doc: "Voltage at the motor too low: a voltage, or a share of motor.voltage.", source: "motors stand 10 % less than their rated voltage: NEMA MG 1, from memory",
	},
	engine.StartJam: {
		latch: true, latchWhy: "who starts it again must know what held it",
		on: true, warn: "2.5 s", act: "3 s", span: "3 s", deadband: "0 s", lo: 0.1, hi: 60,
		warnDelay: delay{"0 s", "the value is itself a time"},
		actDelay:  delay{"0 s", "for the same reason: a locked rotor burns in seconds"},
		offTime:   delay{"2 s", "so that it can be read"},
		needs:     []frame.Channel{frame.MotorCurrent}, plate: []string{"motor.rated_current"},
		doc: "How long the motor has drawn a start's current, or a jam's.", source: practice,
	},
	engine.PowerLost: {
		latch: true, latchWhy: "power that comes back starts a machine that is switched on",
		on: true, act: "1", span: "1", deadband: "0", lo: 0, hi: 1,
		warnDelay: delay{"0 s", "no such stage"},
		actDelay:  delay{"1 s", "a contactor takes a moment"},
		offTime:   delay{"1 s", "for the same reason"},
		needs:     []frame.Channel{frame.Running}, either: []frame.Channel{frame.PowerPresent, frame.MotorCurrent},
		doc: "Switched on, and no power comes: 1 for yes.", source: "definition",
	},
	engine.Discharge: {
		on: true, warn: "15 %", act: "100 %", span: "100 %", deadband: "2 %", lo: 0.01, hi: 10, warnHi: nozzle.DefaultLimits().WornMost,
		warnDelay: delay{"2 s", "the trigger swings flow and pressure; a worn nozzle is never urgent"},
		actDelay:  delay{"2 s", "a burst hose shows at once and is seen at once"},
		offTime:   delay{"2 s", "the trigger swings flow and pressure"},
		needs:     []frame.Channel{frame.Flow, frame.OutletPressure}, plate: []string{"nozzle.orifice_number"},
		doc: "How far nozzle and hose lie from what flow and pressure should be.", source: practice,
	},
	engine.Frost: {
		on: true, warn: "2 h", act: "30 min", span: "4 h", deadband: "10 min", lo: 60, hi: 86400,
		warnDelay: delay{"10 s", "water cools over hours"},
		actDelay:  delay{"10 s", "for the same reason"},
		offTime:   delay{"10 s", "for the same reason"},
		either:    []frame.Channel{frame.AmbientTemp, frame.WaterTemp},
		doc:       "How long the water standing in the pump takes to freeze.", source: practice,
	},
	engine.Wear: {
		on: true, warn: "95 %", act: "90 %", span: "10 %", deadband: "1 %", lo: 0.3, hi: 1,
		warnDelay: delay{"60 s", "wear takes weeks: only steady running counts"},
		actDelay:  delay{"60 s", "for the same reason"},
		offTime:   delay{"60 s", "for the same reason"},
		needs:     []frame.Channel{frame.Flow, frame.OutletPressure, frame.WaterTemp}, plate: []string{"machine.displacement", "machine.rated_speed"},
		doc: "Volumetric efficiency against this machine's own baseline.", source: practice,
	},
}
