package config

import "headroom/rules/units"

const practice = "common practice, no source"

func plantSchema() []Section {
	return []Section{
		{Name: "motor", Doc: "The motor's plate. Leave the section's figures out for an engine.", Keys: motorKeys()},
		{Name: "circuit", Doc: "The branch circuit on somebody else's wall. Local codes and licensed practice decide; this only describes.", Keys: circuitKeys()},
		{Name: "cord", Doc: "The extension cord between the wall and the machine.", Keys: []Key{
			{Name: "gauge", Kind: Wire, Default: `"12 AWG"`, Plate: true, Why: "12 gauge: " + practice,
				Doc: "Conductor's size, AWG or mm2.", field: func(c *Config, _ int) any { return &c.Cord.AreaM2 }},
			{Name: "length", Kind: Measure, Quantity: units.Length, Max: 300, Default: `"50 ft"`, Plate: true, Why: "at most 50 ft: " + practice,
				Doc: "Length one way.", field: func(c *Config, _ int) any { return &c.Cord.LengthM }},
		}},
		hoseSection("supply_hose", "The hose from the tap to the pump.", `"0.75 in"`, `"50 ft"`, "3/4 inch: "+practice, invented, func(c *Config) *Hose { return &c.SupplyHose }),
		hoseSection("pressure_hose", "The hose from the pump to the nozzle.", `"0.25 in"`, `"100 ft"`, invented, invented, func(c *Config) *Hose { return &c.PressureHose }),
		{Name: "nozzle", Doc: "The nozzle, by its trade number or by its holes, not both.", Keys: []Key{
			{Name: "orifice_number", Kind: Number, Max: 100, Above: true, Default: `4.0`, Plate: true, Why: invented,
				Doc: "Trade's size of the whole nozzle: US gallons a minute at 4000 psi.", field: func(c *Config, _ int) any { return &c.Nozzle.Number }},
			{Name: "orifice_bore", Kind: Measure, Quantity: units.Bore, Min: 1e-4, Max: 0.02, Example: `"1.15 mm"`,
				Doc: "Diameter of one hole.", field: func(c *Config, _ int) any { return &c.Nozzle.BoreM }},
			{Name: "orifices", Kind: Count, Min: 1, Max: 50, Default: `1`,
				Doc: "Number of holes of that bore.", field: func(c *Config, _ int) any { return &c.Nozzle.Orifices }},
		}},
	}
}

func motorKeys() []Key {
	return []Key{
		{Name: "rated_power", Kind: Measure, Quantity: units.Power, Max: 100e3, Above: true, Default: `"1.5 hp"`, Plate: true, Why: invented,
			Doc: "Power at the shaft.", field: func(c *Config, _ int) any { return &c.Motor.RatedPowerW }},
		{Name: "rated_current", Kind: Measure, Quantity: units.Current, Max: 500, Above: true, Default: `"15 A"`, Plate: true, Why: invented,
			Doc: "Current at full load.", field: func(c *Config, _ int) any { return &c.Motor.RatedA }},
		{Name: "no_load_current", Kind: Measure, Quantity: units.Current, Max: 500, Above: true, Default: `"6 A"`, Plate: true, Why: invented,
			Doc: "Current with the pump turning and no pressure on it.", field: func(c *Config, _ int) any { return &c.Motor.NoLoadA }},
		{Name: "voltage", Kind: Measure, Quantity: units.Voltage, Min: 12, Max: 1000, Default: `"120 V"`, Plate: true, Why: invented,
			Doc: "Rated voltage.", field: func(c *Config, _ int) any { return &c.Motor.VoltageV }},
		{Name: "service_factor", Kind: Number, Min: 1, Max: 2, Default: `1.15`, Plate: true, Why: invented + "; 1.15 is usual, from memory of NEMA MG 1",
			Doc: "Service factor of the plate.", field: func(c *Config, _ int) any { return &c.Motor.ServiceFactor }},
		{Name: "trip_class", Kind: Count, Allowed: []int64{10, 20, 30}, Default: `20`, Plate: true, Why: "20 is usual in North America, 10 elsewhere; from memory",
			Doc: "Class of the overload relay, as in IEC 60947-4-1.", field: func(c *Config, _ int) any { return &c.Motor.TripClass }},
	}
}

func circuitKeys() []Key {
	return []Key{
		{Name: "rating", Kind: Measure, Quantity: units.Current, Min: 1, Max: 600, Default: `"20 A"`, Plate: true, Why: "a grounded circuit of 120 V and 20 A: " + practice,
			Doc: "Rating of the breaker.", field: func(c *Config, _ int) any { return &c.Circuit.RatingA }},
		{Name: "voltage", Kind: Measure, Quantity: units.Voltage, Min: 12, Max: 1000, Default: `"120 V"`, Plate: true, Why: practice,
			Doc: "Nominal voltage.", field: func(c *Config, _ int) any { return &c.Circuit.VoltageV }},
		{Name: "standard", Kind: Choice, Choices: []string{"ul489", "iec60898"}, Default: `"ul489"`, Plate: true, Why: "North America",
			Doc: "Standard of the breaker: UL 489 or IEC 60898-1.", field: func(c *Config, _ int) any { return &c.Circuit.family }},
		{Name: "curve", Kind: Choice, Choices: []string{"B", "C", "D"}, Example: `"B"`,
			Doc: "Letter before the rating on a breaker of IEC 60898-1; UL 489 has none.", field: func(c *Config, _ int) any { return &c.Circuit.curve }},
		{Name: "gfci", Kind: Flag, Default: `true`, Plate: true, Why: practice,
			Doc: "The circuit or the cord has a ground fault interrupter.", field: func(c *Config, _ int) any { return &c.Circuit.GFCI }},
	}
}

func hoseSection(name, doc, bore, length, boreWhy, lengthWhy string, hose func(c *Config) *Hose) Section {
	return Section{Name: name, Doc: doc, Keys: []Key{
		{Name: "bore", Kind: Measure, Quantity: units.Bore, Min: 0.003, Max: 0.2, Default: bore, Plate: true, Why: boreWhy,
			Doc: "Inner diameter.", field: func(c *Config, _ int) any { return &hose(c).BoreM }},
		{Name: "length", Kind: Measure, Quantity: units.Length, Max: 1000, Above: true, Default: length, Plate: true, Why: lengthWhy,
			Doc: "Length.", field: func(c *Config, _ int) any { return &hose(c).LengthM }},
	}}
}
