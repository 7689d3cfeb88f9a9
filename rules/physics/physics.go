// Package physics gathers what the physics packages compute, with what each
// quantity was compared with, and writes the document about it.
//
// It owns the order, the titles and the introductions of the sections, and the
// Markdown made from them. It computes no physics of its own and holds no
// wanted value: every number of the document comes from a package's Checks, so
// that the document cannot claim a check that no test runs. It refuses to
// flatter: the largest deviation stands beside what is allowed there, and what
// rests on memory, on common practice or on arithmetic alone is listed as such.
package physics

import (
	"headroom/rules/air"
	"headroom/rules/cavitation"
	"headroom/rules/check"
	"headroom/rules/circuit"
	"headroom/rules/circuit/breaker"
	"headroom/rules/circuit/cord"
	"headroom/rules/circuit/motor"
	"headroom/rules/circuit/thermal"
	"headroom/rules/circuit/unloader"
	"headroom/rules/heat"
	"headroom/rules/hydraulics"
	"headroom/rules/nozzle"
	"headroom/rules/suction"
	"headroom/rules/supply"
	"headroom/rules/water"
	"headroom/rules/wear"
)

// Section is one package's part of the document.
type Section struct {
	// Title in plain words and Package, the folder below the module.
	Title, Package string
	// About says in two sentences what the package answers and from what.
	About string
	// NotModelled says what the package leaves out, one sentence each.
	NotModelled []string
	// Quantities are the package's Checks.
	Quantities []check.Quantity
}

// All returns every physics package's section, in the order in which they build
// on each other: the liquid, the inlet, the outlet, heat and wear, electricity.
func All() []Section {
	return append(waterSections(), electricSections()...)
}

func waterSections() []Section {
	return []Section{
		{"Water", "rules/water",
			"Vapour pressure, density, heat and viscosity of liquid water from its temperature and pressure. Everything that asks whether water boils, rubs or warms starts here.",
			notWater, water.Checks()},
		{"Air", "rules/air",
			"The pressure of the standard atmosphere at an altitude, for a pump without a barometer. A pump on a mountain has less air to push water into it.",
			notAir, air.Checks()},
		{"Hose friction", "rules/hydraulics",
			"What a hose or pipe takes in pressure at a flow, and the flow that a loss allows. Both the supply hose and the jetting hose are judged by it.",
			notHydraulics, hydraulics.Checks()},
		{"Suction", "rules/suction",
			"Whether the pump's inlet has head enough above the vapour pressure. The pulse of the plungers and the pump's own requirement are taken off, and the rest is the margin.",
			notSuction, suction.Checks()},
		{"Cavitation", "rules/cavitation",
			"The numbers behind the signs that a pump is short of water. How the signs are weighed against each other is a judgement and no quantity, and stands in the package's tests.",
			notCavitation, cavitation.Checks()},
		{"Supply test", "rules/supply",
			"How much water somebody else's tap and the hose can give, from a static and one or two flowing readings. Two curves are drawn through them, and their difference is told as the spread.",
			notSupply, supply.Checks()},
		{"Nozzle", "rules/nozzle",
			"Flow, pressure, thrust and power of the jets, and which nozzle suits a pump. The same law tells a worn nozzle from a blocked one.",
			notNozzle, nozzle.Checks()},
		{"Heat", "rules/heat",
			"How fast a pump warms its water, above all in the bypass loop with the trigger shut. The other way round, how long a standing pump has until it freezes.",
			notHeat, heat.Checks()},
		{"Wear", "rules/wear",
			"How much of its stroke the pump still delivers, held against the machine's own baseline. The growth of the slip with pressure hints at valves or packing, and hours count toward service.",
			notWear, wear.Checks()},
	}
}

func electricSections() []Section {
	return []Section{
		{"Circuit", "rules/circuit",
			"The true current in the borrowed circuit and its share of the rating. A load of three hours or more may use 80 % of it only.",
			notCircuit, circuit.Checks()},
		{"Breaker", "rules/circuit/breaker",
			"When the breaker may trip, and by when it should have. Its standard allows a band, so the answer is a band.",
			notBreaker, breaker.Checks()},
		{"Motor", "rules/circuit/motor",
			"How much of the motor's thermal capacity is used up, and what its plate should say. Cold and hot trip times follow the overload relay's standard curves.",
			notMotor, motor.Checks()},
		{"Thermal image", "rules/circuit/thermal",
			"The first-order heating that breaker and motor share. Both of its forms are exact for a constant current.",
			notThermal, thermal.Checks()},
		{"Cord", "rules/circuit/cord",
			"The voltage lost in an extension cord, what the motor sees, and how long the cord may be. The resistances are the code's tables.",
			notCord, cord.Checks()},
		{"Unloader", "rules/circuit/unloader",
			"How far to turn the pressure down to bring the current under a limit. What that costs at the nozzle follows from the orifice law.",
			notUnloader, unloader.Checks()},
	}
}
