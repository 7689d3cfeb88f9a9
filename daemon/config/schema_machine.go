package config

import (
	"fmt"

	"headroom/rules/suction"
	"headroom/rules/units"
)

// pumpTypes are the plunger arrangements that ANSI/HI 6 gives figures for.
var pumpTypes = []string{
	"simplex_single_acting", "simplex_double_acting", "duplex_single_acting", "duplex_double_acting",
	"triplex_single_acting", "triplex_double_acting", "quintuplex_single_acting", "septuplex_single_acting",
}

const invented = "invented machine"

func topSchema() []Section {
	return []Section{{Keys: []Key{
		{Name: "base", Kind: Choice, Choices: []string{"default", "bare"}, Default: `"default"`,
			Doc:   "What holds where a file is silent: \"default\" is all of this file; \"bare\" is a machine with no channel fitted, no plate and no rule on, for a file that says it all itself. The plate of the invented machine holds only while the simulator is on.",
			field: func(c *Config, _ int) any { return &c.Base }},
	}}}
}

func machineSchema() []Section {
	return []Section{
		{Name: "machine", Doc: "The pump's plate and where it stands. The machine of this file is invented, and so are its motor, circuit, cord, hoses and nozzle: with the simulator off, what of them is not written is not set.", Keys: machineKeys()},
		{Name: "machine.npsh_required", Array: true, Max: 8,
			Doc: "The pump's own points of net positive suction head required, by rising speed, from its data sheet. With none, npsh_assumed holds and is marked as assumed.",
			Keys: []Key{
				{Name: "speed", Kind: Measure, Quantity: units.Speed, Max: 200, Above: true, Required: true, Example: `"1725 rpm"`,
					Doc: "Shaft speed of the point.", field: func(c *Config, i int) any { return &c.Engine.Machine.NPSHRequired[i].SpeedHz }},
				{Name: "head", Kind: Measure, Quantity: units.Head, Max: 30, Above: true, Required: true, Example: `"2.5 m"`,
					Doc: "Head required there.", field: func(c *Config, i int) any { return &c.Engine.Machine.NPSHRequired[i].HeadM }},
			}},
	}
}

func machineKeys() []Key {
	keys := []Key{
		{Name: "name", Kind: Text, Default: `"Demo jetter"`, Plate: true, Why: invented,
			Doc: "Name for screens and reports.", field: func(c *Config, _ int) any { return &c.Name }},
		{Name: "drive", Kind: Choice, Choices: []string{string(Electric), string(EngineDriven)}, Default: `"electric"`,
			Doc: "What turns the pump.", field: func(c *Config, _ int) any { return (*string)(&c.Drive) }},
		{Name: "pump_type", Kind: Choice, Choices: pumpTypes, Default: `"triplex_single_acting"`, Plate: true, Why: invented,
			Doc: "Arrangement of the plungers; the acceleration of the water in the suction hose depends on it.", field: func(c *Config, _ int) any { return &c.Pump.Type }},
	}
	keys = append(keys, deliveryKeys()...)
	return append(keys, siteKeys()...)
}

func deliveryKeys() []Key {
	return []Key{
		{Name: "rated_flow", Kind: Measure, Quantity: units.FlowRate, Max: 0.02, Above: true, Default: `"7.6 L/min"`, Plate: true, Why: invented + ", 2 gpm",
			Doc: "Flow at the rated speed, from the plate.", field: func(c *Config, _ int) any { return &c.Engine.Machine.RatedFlowM3s }},
		{Name: "rated_speed", Kind: Measure, Quantity: units.Speed, Max: 200, Above: true, Default: `"1725 rpm"`, Plate: true, Why: invented,
			Doc: "Shaft speed of the pump, from the plate.", field: func(c *Config, _ int) any { return &c.Engine.Machine.RatedSpeedHz }},
		{Name: "volumetric_efficiency", Kind: Measure, Quantity: units.Fraction, Min: 0.5, Max: 1, Default: `"95 %"`, Why: "common practice, no source",
			Doc: "Share of the displacement that a healthy pump delivers.", field: func(c *Config, _ int) any { return &c.Engine.Machine.VolumetricEff }},
		{Name: "displacement", Kind: Measure, Quantity: units.Volume, Max: 0.01, Above: true, Example: `"4.64 cm3"`,
			Doc: "Water per revolution. Where it is not given it follows from rated_flow, rated_speed and volumetric_efficiency.", field: func(c *Config, _ int) any { return &c.Engine.Machine.DisplacementM3 }},
		{Name: "rated_pressure", Kind: Measure, Quantity: units.Pressure, Max: 60e6, Above: true, Default: `"9 MPa"`, Plate: true, Why: invented + ", 1300 psi",
			Doc: "Highest outlet pressure, gauge, from the plate.", field: func(c *Config, _ int) any { return &c.Engine.Machine.RatedOutletPa }},
		{Name: "unloader_opens", Kind: Measure, Quantity: units.Pressure, Max: 60e6, Above: true, Example: `"9 MPa"`,
			Doc: "Outlet pressure at which the unloader, as it is set, begins to pass water back, gauge. Without it less flow than the baseline's may be water that the unloader passes back, and wear isn't told.", field: func(c *Config, _ int) any { return &c.Engine.Machine.UnloaderOpensPa }},
		{Name: "npsh_assumed", Kind: Measure, Quantity: units.Head, Max: 30, Default: fmt.Sprintf(`"%g m"`, suction.AssumedNPSHRM), Plate: true, Why: "assumed, none on the plate; common practice, no source",
			Doc: "Net positive suction head required where the data sheet gives no points. What rests on it is marked as assumed.", field: func(c *Config, _ int) any { return &c.Engine.Machine.AssumedNPSHRM }},
	}
}

func siteKeys() []Key {
	return []Key{
		{Name: "altitude", Kind: Measure, Quantity: units.Length, Min: -430, Max: 5500, Default: `"0 m"`,
			Doc: "Height above sea level, for the air pressure where no barometer is fitted.", field: func(c *Config, _ int) any { return &c.Engine.Machine.AltitudeM }},
		{Name: "inlet_gauge_height", Kind: Measure, Quantity: units.Length, Min: -5, Max: 5, Default: `"0 m"`,
			Doc: "Height of the inlet gauge over the pump's centre line; negative below it.", field: func(c *Config, _ int) any { return &c.Engine.Machine.InletGaugeHeightM }},
		{Name: "inlet_bore", Kind: Measure, Quantity: units.Bore, Min: 0.003, Max: 0.2, Default: `"19 mm"`, Plate: true, Why: invented,
			Doc: "Bore where the inlet gauge sits, for the velocity head.", field: func(c *Config, _ int) any { return &c.Engine.Machine.InletBoreM }},
		{Name: "inlet_line", Kind: Measure, Quantity: units.Length, Max: 100, Default: `"0.2 m"`, Plate: true, Why: invented,
			Doc: "Length of rigid line between hose and pump inlet, for the head that the pulsing flow takes.", field: func(c *Config, _ int) any { return &c.Engine.Plant.InletLineM }},
		{Name: "bypass_volume", Kind: Measure, Quantity: units.Volume, Max: 1, Above: true, Default: `"1 L"`, Plate: true, Why: invented,
			Doc: "Water that goes round while the outlet is closed.", field: func(c *Config, _ int) any { return &c.Engine.Machine.BypassVolumeM3 }},
		{Name: "bypass_power", Kind: Measure, Quantity: units.Power, Max: 100e3, Above: true, Default: `"1140 W"`, Plate: true, Why: "rated flow times rated pressure, for an unloader that holds the pressure; less for one that dumps",
			Doc: "Power that heats this water while the outlet is closed.", field: func(c *Config, _ int) any { return &c.Engine.Machine.BypassPowerW }},
	}
}
