package config

import (
	"headroom/rules/units"
	"headroom/rules/wear"
)

// baselineSchema is what the machine did when it was known to be sound: the
// wear rule compares with it.
func baselineSchema() []Section {
	point := func(c *Config, i int) *wear.Point { return &c.Engine.Plant.Baseline.Points[i] }
	return []Section{{
		Name: "machine.baseline", Array: true, Max: wear.MaxBaseline,
		Doc: "What this machine did when it was known to be sound, for the wear rule; headroom bench accept-baseline writes these points from a test. With none, wear isn't watched.",
		Keys: []Key{
			{Name: "speed", Kind: Measure, Quantity: units.Speed, Min: 0.1, Max: 200, Required: true, Example: `"1760 rpm"`,
				Doc: "Shaft speed of the point.", field: func(c *Config, i int) any { return &point(c, i).SpeedHz }},
			{Name: "pressure", Kind: Measure, Quantity: units.Pressure, Max: 60e6, Required: true, Example: `"8.2 MPa"`,
				Doc: "Pressure rise across the pump there; the rule takes the outlet's gauge pressure for it.", field: func(c *Config, i int) any { return &point(c, i).DropPa }},
			{Name: "temperature", Kind: Measure, Quantity: units.Temperature, Min: 263.15, Max: 423.15, Required: true, Example: `"15 °C"`,
				Doc: "Water temperature there.", field: func(c *Config, i int) any { return &point(c, i).TempK }},
			{Name: "efficiency", Kind: Measure, Quantity: units.Fraction, Min: 0.01, Max: wear.MaxEfficiency, Required: true, Example: `"95.5 %"`,
				Doc: "Volumetric efficiency there.", field: func(c *Config, i int) any { return &point(c, i).Efficiency }},
		},
	}}
}

// deriveBaseline counts the points and says what may be compared with them.
func (d *decoder) deriveBaseline() {
	b := &d.cfg.Engine.Plant.Baseline
	b.N = min(d.elements["machine.baseline"], wear.MaxBaseline)
	if b.N > 0 {
		b.Tol = wear.DefaultTolerance()
	}
}
