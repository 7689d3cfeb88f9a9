package physics

// What each package leaves out, from its package comment, for people who read
// the document and not the code. Constant data.
var (
	notWater = []string{
		"Antifreeze. Everything is pure water. With glycol the real friction is higher than computed and the water heats faster, so that suction headroom and the time to the temperature limit are overstated; an alcohol mixture also boils sooner. Readings taken while antifreeze runs through are indicative only (ASHRAE Handbook Fundamentals, secondary coolants, from memory).",
		"Steam, ice, two-phase mixtures and metastable liquid. Below the saturation pressure the answer is a refusal.",
		"Dissolved salts and dissolved air. Air comes out of solution before water boils, so that a pump may sound rough with some margin left.",
	}
	notAir = []string{
		"Weather. The real pressure at sea level is mostly within about 3 % of the standard (common knowledge, no source).",
	}
	notHydraulics = []string{
		"Flow with air in it, a collapsed or kinked hose, water hammer, and the true bore of a hose: the loss goes with about its fifth power, so that a computed loss is good to perhaps 20 % until it was measured once on the hose at hand.",
		"Couplings, unless their loss coefficient is given.",
	}
	notSuction = []string{
		"Elastic suction hoses. The acceleration head is the rigid column's, an upper bound for a long rubber hose, and marked as such.",
		"A published margin for plunger pumps. ANSI/HI 9.6.1 is for rotodynamic pumps, so the wanted margin is a setting.",
	}
	notCavitation = []string{
		"The growth and collapse of bubbles, and damage. The package weighs signs; it predicts no pitting.",
	}
	notSupply = []string{
		"Other people's water use during the test or after it, and pressure regulators that close slowly.",
	}
	notNozzle = []string{
		"The true discharge coefficient of a jetting head. It is an assumption until measured.",
		"The drag of hose and water in the line. Thrust is that of still jets, the upper bound.",
	}
	notHeat = []string{
		"Loss of heat to the air in the loop, and any temperature field. The loop warms somewhat slower than computed, the safe direction.",
		"Latent heat. Freezing is told from 0 °C, before the ice is solid.",
	}
	notWear = []string{
		"Starvation, air and a slipping belt, which lower the delivery just as wear does. The caller must give readings taken with headroom on the suction side.",
	}
	notCircuit = []string{
		"Three-phase circuits, ground faults, and every judgement of the building's wiring. Local code decides.",
	}
	notBreaker = []string{
		"The ambient temperature in the panel, ground-fault and arc-fault functions, fuses, and a breaker's wear.",
		"A breaker's own curve between the standard's calibration points, unless the maker's curve is set. There the shape of first-order heating stands in.",
	}
	notMotor = []string{
		"The motor's real temperature. A blocked fan or a hot day heat a motor at its rated current too.",
		"The protector built into the motor.",
	}
	notThermal = []string{
		"A second time constant, such as windings against iron. Short overloads after a long load are judged by one body.",
	}
	notCord = []string{
		"Plugs, worn contacts, reactance and the building's wiring. A cord that is warm at its plug is bad whatever is computed.",
	}
	notUnloader = []string{
		"Engines, and unloaders that dump to no pressure.",
		"Pressures below a tenth of the present one, or above it.",
	}
)
