package report

import (
	"headroom/daemon/config"
	"headroom/daemon/review"
	"headroom/rules/engine"
	"headroom/rules/units"
	"headroom/rules/words"
)

// settings are the figures that the run was judged by: those that are set.
func (p *Report) settings() (out []group, missing string) {
	c := p.Config
	if c == nil {
		return nil, "The record does not hold the settings in force, or this version can't read them. Their hash stands above."
	}
	out = append(out, p.machine(c))
	limits := group{Name: "Limits"}
	for r := range engine.NumRules {
		if l := &c.Engine.Rules[r]; l.On {
			limits.Rows = append(limits.Rows, pair{words.Rule(r), p.rule(r, l)})
		}
	}
	return append(out, limits), ""
}

// rule writes the limits and times of one rule.
func (p *Report) rule(r engine.RuleID, l *engine.Limit) string {
	show := func(v float64) string {
		if w, ok := words.Grade(r, v); ok {
			return w
		}
		return units.Format(r.Spec().Quantity, p.Options.Units, v)
	}
	text := ""
	if l.HasWarn {
		text = review.Lower(l.WarnLevel.Words()) + " at " + show(l.Warn) + " after " + p.seconds(l.WarnOn)
	}
	if l.HasAct {
		if text != "" {
			text += "; "
		}
		text += review.Lower(l.ActLevel.Words()) + " at " + show(l.Act) + " after " + p.seconds(l.ActOn)
	}
	if r.Spec().Quantity == units.Switch {
		text = "on"
	}
	if l.Source != "" {
		text += " (" + l.Source + ")"
	}
	return text
}

// machine writes the figures of the machine and what stands around it.
func (p *Report) machine(c *config.Config) group {
	g := group{Name: "Machine"}
	add := func(name string, q units.Quantity, v float64) {
		if v != 0 {
			g.Rows = append(g.Rows, pair{name, units.Format(q, p.Options.Units, v)})
		}
	}
	m := &c.Engine.Machine
	g.Rows = append(g.Rows, pair{"Drive", string(c.Drive)})
	add("Rated flow", units.FlowRate, m.RatedFlowM3s)
	add("Rated speed", units.Speed, m.RatedSpeedHz)
	add("Rated pressure", units.Pressure, m.RatedOutletPa)
	add("Volumetric efficiency", units.Fraction, m.VolumetricEff)
	if m.NPSHPoints == 0 {
		add("NPSH required (assumed)", units.Head, m.AssumedNPSHRM)
	} else {
		add("NPSH required, first point", units.Head, m.NPSHRequired[0].HeadM)
	}
	add("Height above sea level", units.Length, m.AltitudeM)
	add("Supply hose, bore", units.Bore, c.SupplyHose.BoreM)
	add("Supply hose, length", units.Length, c.SupplyHose.LengthM)
	add("Pressure hose, bore", units.Bore, c.PressureHose.BoreM)
	add("Pressure hose, length", units.Length, c.PressureHose.LengthM)
	if c.Drive == config.Electric {
		add("Breaker", units.Current, c.Circuit.RatingA)
		add("Motor, rated current", units.Current, c.Engine.Plant.RatedA)
		add("Cord, length", units.Length, c.Cord.LengthM)
	}
	return g
}

// cautions stand at the end of every report.
var cautions = []string{
	"headroom is an aid and no certified safety device. Its sensors and the program can fail. What has no sensor was not watched.",
	"The report tells what was measured and recorded. It finds no fault with anybody, and it replaces no inspection of the machine.",
	"Local codes, the makers' manuals and licensed practice come before anything that is said here.",
	"Water from a jetter injects through skin: such a wound is an emergency. Release the pressure and pull the plug before you work on the machine.",
}
