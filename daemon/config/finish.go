package config

import (
	"fmt"
	"math"
	"strings"

	"headroom/rules/circuit/breaker"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// finish derives what follows from the settings and, where the whole file was
// understood, holds them against each other.
func (d *decoder) finish(whole bool) {
	c := d.cfg
	d.requireKeys(whole)
	d.derivePump()
	d.deriveTurning()
	d.resolveShares()
	c.Engine.Machine.CircuitA = c.Circuit.RatingA
	if c.Name == "" {
		c.Name = "Unnamed machine"
	}
	c.Nozzle.settle(d)
	c.Engine.Machine.NPSHPoints = d.elements["machine.npsh_required"]
	d.deriveBaseline()
	d.deriveBreaker(whole)
	d.derivePlant()
	d.deriveSensors(whole)
	d.deriveBuses()
	d.deriveChannels()
	d.deriveRules()
	d.deriveCSV(whole)
	d.remark()
	if !whole {
		return
	}
	d.checkPlant()
	d.checkServer()
	d.checkChannels()
	d.checkRules()
	d.checkOutputs()
	d.checkFitted()
	if len(Mistakes(d.problems)) == 0 {
		d.checkWatching() // else it would tell of what only a mistake took away
	}
	d.lastGuard()
}

// lastGuard asks the engine itself, so that a check forgotten here still stops
// the start and not a run.
func (d *decoder) lastGuard() {
	if len(Mistakes(d.problems)) > 0 {
		return
	}
	if _, err := engine.New(d.cfg.Engine); err != nil {
		d.report(position{1, 1}, "", err.Error(), "see the named setting")
	}
}

// where returns the place of the first of the keys that the file sets, else of
// the first section of them that it opens, else the file's start.
func (d *decoder) where(paths ...string) position {
	for _, p := range paths {
		if at, ok := d.inFile[p]; ok {
			return at
		}
	}
	for _, p := range paths {
		if at, ok := d.inFile[p[:max(strings.LastIndexByte(p, '.'), 0)]]; ok {
			return at
		}
	}
	return position{1, 1}
}

func (d *decoder) wrote(path string) bool { _, ok := d.inFile[path]; return ok }

// requireKeys reports keys that an element of an array must have.
func (d *decoder) requireKeys(whole bool) {
	if !whole {
		return
	}
	for _, s := range Schema() {
		for i := range d.elements[s.Name] {
			path := element(s.Name, i+1)
			if !d.wrote(path) {
				continue // told already: no section
			}
			for k := range s.Keys {
				if s.Keys[k].Required && !d.wrote(join(path, s.Keys[k].Name)) {
					d.report(d.inFile[path], path, "has no "+s.Keys[k].Name, "write "+s.Keys[k].Name+" = "+s.Keys[k].sample())
				}
			}
		}
	}
}

// derivePump completes displacement, rated flow and rated speed from each
// other. A displacement in the file goes before the default's flow.
func (d *decoder) derivePump() {
	m := &d.cfg.Engine.Machine
	if d.wrote("machine.displacement") && !d.wrote("machine.rated_flow") && m.DisplacementM3 > 0 && m.RatedSpeedHz > 0 {
		m.RatedFlowM3s = m.DisplacementM3 * m.RatedSpeedHz * m.VolumetricEff
		return
	}
	if m.DisplacementM3 == 0 && m.RatedFlowM3s > 0 && m.RatedSpeedHz > 0 {
		m.DisplacementM3 = m.RatedFlowM3s / (m.RatedSpeedHz * m.VolumetricEff)
		d.cfg.Pump.DisplacementDerived = true
	}
}

// turningShare of the rated current is half of what a motor usually draws with
// nothing on it: common practice, no source.
const turningShare = 0.2

// deriveTurning takes half of the no-load current for the current above which
// the pump counts as turning, where the file gives none, else a share of
// the rated one, else the default. The invented machine has its own, and "bare" derives nothing.
func (d *decoder) deriveTurning() {
	c := d.cfg
	if d.invented || c.Base == "bare" || d.wrote("states.run_current") || c.Drive != Electric {
		return
	}
	switch {
	case c.Motor.NoLoadA > 0:
		c.Engine.Machine.RunCurrentA = c.Motor.NoLoadA / 2
	case c.Motor.RatedA > 0:
		c.Engine.Machine.RunCurrentA = turningShare * c.Motor.RatedA
	}
}

// shareBase returns the figure that percentages of a key are shares of; 0
// where it isn't known.
func (d *decoder) shareBase(path string) float64 {
	switch path {
	case "circuit.rating":
		return d.cfg.Circuit.RatingA
	case "machine.rated_flow":
		return d.cfg.Engine.Machine.RatedFlowM3s
	case "motor.voltage":
		return d.cfg.Motor.VoltageV
	case "machine.rated_pressure":
		return d.cfg.Engine.Machine.RatedOutletPa
	}
	return 0
}

// resolveShares turns percentages into amounts. A share of an unknown figure
// counts as not set; where the key matters checkRules says so.
func (d *decoder) resolveShares() {
	for path, share := range d.shares {
		k := d.keys[path]
		if !share {
			continue
		}
		f, ok := k.field(d.cfg, 0).(*float64)
		if !ok {
			continue
		}
		*f *= d.shareBase(k.ShareOf)
		if d.shareBase(k.ShareOf) == 0 {
			d.set[path] = false
		}
	}
}

func (d *decoder) deriveBreaker(whole bool) {
	c := &d.cfg.Circuit
	switch c.family + c.curve {
	case "ul489":
		c.Standard = breaker.UL489
	case "iec60898B":
		c.Standard = breaker.IEC60898B
	case "iec60898C":
		c.Standard = breaker.IEC60898C
	case "iec60898D":
		c.Standard = breaker.IEC60898D
	case "iec60898":
		if whole && !d.wrote("circuit.curve") {
			d.report(d.where("circuit.standard"), "circuit.curve", "is missing: a breaker of IEC 60898-1 has a letter", `write curve = "B", "C" or "D", as printed before the rating`)
		}
	default:
		if whole && c.family == "ul489" {
			d.report(d.where("circuit.curve"), "circuit.curve", "a breaker of UL 489 has no curve's letter", `leave curve out, or write standard = "iec60898"`)
		}
	}
}

func (d *decoder) deriveChannels() {
	for ch := range frame.NumChannels {
		s := &d.cfg.Engine.Signals[ch]
		if ch.Digital() {
			s.Min, s.Max = ch.Believable()
		}
		if !s.Fitted {
			d.cfg.Stale[ch] = 0
		}
	}
	for _, ch := range [...]frame.Channel{frame.Flow, frame.InletPressure, frame.Trigger, frame.OutletPressure} {
		d.cfg.Engine.States.Hold = max(d.cfg.Engine.States.Hold, d.cfg.Stale[ch])
	}
}

func (d *decoder) deriveRules() {
	for r := range engine.NumRules {
		l, path := &d.cfg.Engine.Rules[r], "rules."+r.String()
		l.WarnLevel, l.ActLevel = engine.Warning, engine.Act
		if ruleDefaults[r].advice {
			l.WarnLevel = engine.Advice
		}
		l.HasWarn, l.HasAct = d.set[path+".warn"], d.set[path+".act"]
		l.Lacks = d.lacks(r)
		if ruleDefaults[r].auto && r == engine.Departure && !d.wrote(path+".on") {
			l.On = d.cfg.Engine.Normal.LearnS > 0
		}
	}
	d.deriveHeatWarn()
}

// remark says what was derived or assumed.
func (d *decoder) remark() {
	m := &d.cfg.Engine.Machine
	say := func(format string, args ...any) { d.cfg.Remarks = append(d.cfg.Remarks, fmt.Sprintf(format, args...)) }
	if d.cfg.Pump.DisplacementDerived {
		say("displacement %.4g cm3/rev is derived: rated flow %s at %s with a volumetric efficiency of %s",
			m.DisplacementM3*1e6, units.Format(units.FlowRate, d.cfg.Units, m.RatedFlowM3s),
			units.Format(units.Speed, d.cfg.Units, m.RatedSpeedHz), units.Format(units.Fraction, d.cfg.Units, m.VolumetricEff))
	}
	if m.NPSHPoints == 0 && m.AssumedNPSHRM > 0 {
		say("net positive suction head required is assumed: %s", units.Format(units.Head, d.cfg.Units, m.AssumedNPSHRM))
	}
	if !d.invented && d.cfg.Drive == Electric && m.RunCurrentA > 0 && !d.wrote("states.run_current") {
		say("the pump is taken to turn above %s", units.Format(units.Current, d.cfg.Units, m.RunCurrentA))
	}
	if d.cfg.Simulator.On {
		say("readings are simulated: %s", d.cfg.Simulator.Scenario)
	}
}

// beyond reports whether a lies beyond b in the rule's bad direction.
func beyond(r engine.RuleID, a, b float64) bool {
	if r.Spec().HighIsBad {
		return a > b && !near(a, b)
	}
	return a < b && !near(a, b)
}

// near is true for values that differ by no more than units cost.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Max(math.Abs(a), math.Abs(b)) }
