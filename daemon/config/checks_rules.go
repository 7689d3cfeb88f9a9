package config

import (
	"slices"
	"strings"

	"headroom/rules/circuit/breaker"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// checkRules finds limits that contradict each other, the plate or the sensor.
func (d *decoder) checkRules() {
	for r := range engine.NumRules {
		if !d.cfg.Engine.Rules[r].On {
			continue
		}
		if d.checkShares(r) {
			d.checkLimits(r)
			d.checkReach(r)
			d.checkSense(r)
		}
	}
	n := &d.cfg.Engine.Normal
	if at := "rules.departure.on"; d.cfg.Engine.Rules[engine.Departure].On && n.LearnS == 0 {
		d.report(d.where(at), at, "the rule is on, but normal.learn is 0, so there is no normal to depart from", `write learn = "400 s" under [normal]`)
	}
}

// checkShares reports the first share of what isn't known, where the file
// itself asks for the rule; ok is false where there is one. Where only the
// default asks for it, the rule is listed as not watching.
func (d *decoder) checkShares(r engine.RuleID) (ok bool) {
	if !d.asksFor(r) && d.unknownShare(r) {
		return false
	}
	base := ruleDefaults[r].shareOf
	for _, name := range []string{"warn", "act", "span", "deadband"} {
		path := "rules." + r.String() + "." + name
		if d.shares[path] && d.shareBase(base) == 0 {
			d.report(d.where(path, "rules."+r.String()+".on"), path, "is a share of "+base+", which is not set", "set "+base+", or write an amount with its unit")
			return false
		}
	}
	return true
}

// asksFor reports whether the file switches the rule on or gives it a limit.
func (d *decoder) asksFor(r engine.RuleID) bool {
	return slices.ContainsFunc([]string{"on", "warn", "act", "span", "deadband"}, func(name string) bool {
		return d.wrote("rules." + r.String() + "." + name)
	})
}

// unknownShare reports whether a limit of the rule is a share of what isn't
// known.
func (d *decoder) unknownShare(r engine.RuleID) bool {
	return d.shareBase(ruleDefaults[r].shareOf) == 0 && slices.ContainsFunc([]string{"warn", "act", "span", "deadband"}, func(name string) bool {
		return d.shares["rules."+r.String()+"."+name]
	})
}

func (d *decoder) checkLimits(r engine.RuleID) {
	l, path := &d.cfg.Engine.Rules[r], "rules."+r.String()
	if !l.HasWarn && !l.HasAct && d.sound(path+".warn", path+".act") {
		d.report(d.where(path+".on"), path, "is on but has no limit", "write warn or act")
		return
	}
	if l.Span <= 0 && d.sound(path+".span") {
		d.report(d.where(path+".span", path+".on"), path+".span", "is not above 0", "write the distance that counts as ample headroom")
	}
	if l.HasWarn && l.HasAct && beyond(r, l.Warn, l.Act) && d.sound(path+".warn", path+".act") {
		word := "below"
		if r.Spec().HighIsBad {
			word = "above"
		}
		d.report(d.where(path+".warn", path+".act"), path+".warn",
			d.written(path+".warn")+" is "+word+" act, "+d.written(path+".act")+", so it would come too late", "the warning comes first: set both")
	}
}

// checkReach reports limits outside what the sensor can give: they could never
// be reached, and the rule would keep silent for ever.
func (d *decoder) checkReach(r engine.RuleID) {
	def, l := &ruleDefaults[r], &d.cfg.Engine.Rules[r]
	if !def.direct {
		return
	}
	ch := def.needs[0]
	s := &d.cfg.Engine.Signals[ch]
	for _, stage := range []struct {
		name  string
		has   bool
		limit float64
	}{{"warn", l.HasWarn, l.Warn}, {"act", l.HasAct, l.Act}} {
		out := stage.limit >= s.Max
		band := "channels." + ch.String() + ".max"
		if !r.Spec().HighIsBad {
			out, band = stage.limit <= s.Min, "channels."+ch.String()+".min"
		}
		path := "rules." + r.String() + "." + stage.name
		if stage.has && s.Fitted && out && s.Min < s.Max && d.sound(path, band) {
			d.report(d.where(path, band), path, d.written(path)+" lies outside the band of "+ch.String()+", so it could never be reached", "change the limit or "+band)
		}
	}
}

// checkWatching notes every rule that is on but cannot work on this machine.
func (d *decoder) checkWatching() {
	anyOn := false
	for r := range engine.NumRules {
		l, path := &d.cfg.Engine.Rules[r], "rules."+r.String()
		anyOn = anyOn || l.On
		missing, key := d.missing(r)
		if l.On && missing != "" && !quietly(r) {
			d.note(d.where(path+".on", key, path+".warn", path+".act"), path, "not watching: "+missing, "")
		}
	}
	if anyOn && d.cfg.Engine.Signals[frame.Flow].Fitted && d.cfg.Engine.Machine.FlowOnM3s == 0 {
		d.note(d.where("states.flow_on", "channels.flow.fitted"), "states.flow_on", "is not set, so nothing tells whether water flows", "write a flow, or set machine.rated_flow")
	}
	if l := &d.cfg.Engine.Rules[engine.MotorHeat]; l.On && d.wrote("rules.motor_heat.warn") && l.Warn <= d.ratedHeat() {
		d.note(d.where("rules.motor_heat.warn"), "rules.motor_heat.warn", "lies no higher than the "+units.Format(units.Fraction, units.SI, d.ratedHeat())+" that the motor's rated current comes to, so a motor at its plate's current would be warned of for ever", "leave the key out, or write more")
	}
	if anyOn {
		d.checkTank()
	}
	if d.judgesSupplyByNothing() {
		d.note(d.where("rules.inlet_low.on"), "rules.inlet_low", "is off and machine.npsh_assumed is not set, so flow_short can't tell an unloader that passes water back from a supply that fails, and calls either urgent",
			"switch inlet_low on, or set machine.npsh_assumed")
	}
	if anyOn && d.assumesTurning() {
		d.note(d.where("states.run_current", "motor.rated_current"), "states.run_current", "is not set and the motor's plate neither, so the pump is taken to turn above "+units.Format(units.Current, units.SI, d.cfg.Engine.Machine.RunCurrentA)+", which is assumed", "write motor.no_load_current, or run_current under [states]")
	}
	if anyOn && !d.tellsTurning() {
		d.note(d.where("states.run_current", "states.run_speed"), "states", "no fitted channel can tell whether the pump turns, so rules for a running pump do not watch",
			"fit running, or motor_current with run_current, or shaft_speed with run_speed")
	}
}

// judgesSupplyByNothing reports a flow_short that has neither of the two
// figures which show that the supply is sound.
func (d *decoder) judgesSupplyByNothing() bool {
	e := &d.cfg.Engine
	return e.Rules[engine.FlowShort].On && e.Signals[frame.Flow].Fitted && e.Signals[frame.InletPressure].Fitted &&
		!e.Rules[engine.InletLow].On && !d.knows("machine.npsh_assumed")
}

// quietly reports a rule whose sensor few machines have: the screens list it
// as not watching, and a note here would only be in the way.
func quietly(r engine.RuleID) bool {
	needs := ruleDefaults[r].needs
	return len(needs) > 0 && channelDefaults[needs[0]].notFitted
}

// missing says what a rule lacks, and the key that would mend it; empty for
// nothing.
func (d *decoder) missing(r engine.RuleID) (what, key string) {
	def := &ruleDefaults[r]
	for _, ch := range def.needs {
		if !d.cfg.Engine.Signals[ch].Fitted {
			return ch.String() + " is not fitted", "channels." + ch.String() + ".fitted"
		}
	}
	fitted := func(ch frame.Channel) bool { return d.cfg.Engine.Signals[ch].Fitted }
	if len(def.either) > 0 && !slices.ContainsFunc(def.either, fitted) {
		names := make([]string, len(def.either))
		for i, ch := range def.either {
			names[i] = ch.String()
		}
		return "neither " + strings.Join(names, " nor ") + " is fitted", "channels." + names[0] + ".fitted"
	}
	if key = d.plateLacks(r); key != "" {
		return key + " is not set", key
	}
	if r == engine.MotorVoltage && !fitted(frame.SupplyVoltage) && (d.cfg.Engine.Plant.CircuitV == 0 || d.cfg.Engine.Plant.CordOhm == 0) {
		return "supply_voltage is not fitted, and without circuit.voltage, cord.gauge and cord.length it can't be computed", "cord.gauge"
	}
	return "", ""
}

// lacks is the key of the figure that keeps the rule from judging, for the
// engine to name; empty for none.
func (d *decoder) lacks(r engine.RuleID) string {
	key := d.plateLacks(r)
	switch {
	case key != "":
	case r == engine.PowerLost && !d.knows("motor.rated_current"):
		key = "motor.rated_current" // wanted where no sensor of power is, which a recording shows only then
	case r == engine.Wear && d.cfg.Engine.Plant.Baseline.N == 0:
		key = "machine.baseline" // few machines have one: no note of a check is worth it
	}
	return key
}

func (d *decoder) plateLacks(r engine.RuleID) (key string) {
	if d.unknownShare(r) {
		return ruleDefaults[r].shareOf
	}
	m := &d.cfg.Engine.Machine
	for _, p := range ruleDefaults[r].plate {
		switch {
		case d.knows(p):
		case p == "machine.displacement" && m.RatedFlowM3s > 0 && m.RatedSpeedHz == 0:
			return "machine.rated_speed" // the displacement follows from it
		default:
			return p
		}
	}
	if r == engine.PowerLost && !d.cfg.Engine.Signals[frame.PowerPresent].Fitted && !d.knows("motor.rated_current") {
		return "motor.rated_current" // the current alone then tells, by its share
	}
	if r == engine.NPSHMargin && m.NPSHPoints > 0 && !d.knows("machine.rated_speed") {
		return "machine.rated_speed" // no telling between which points
	}
	return ""
}

// knows reports whether a figure of the plate is known, given or derived.
func (d *decoder) knows(path string) bool {
	m := &d.cfg.Engine.Machine
	switch path {
	case "machine.displacement":
		return m.DisplacementM3 > 0
	case "machine.npsh_assumed":
		return m.NPSHPoints > 0 || m.AssumedNPSHRM > 0
	case "machine.rated_speed":
		return m.RatedSpeedHz > 0 || d.cfg.Engine.Signals[frame.ShaftSpeed].Fitted
	}
	p := &d.cfg.Engine.Plant
	switch path {
	case "circuit.standard":
		return p.Breaker.Standard != breaker.StandardUnknown
	case "motor.rated_current":
		return p.RatedA > 0
	case "motor.trip_class":
		return p.Overload.RatedA > 0
	case "motor.voltage":
		return p.RatedV > 0
	case "nozzle.orifice_number":
		return p.NozzleFactor > 0
	}
	return d.set[path]
}

// assumesTurning reports whether nothing but a current that the file says
// nothing of tells whether the pump turns.
func (d *decoder) assumesTurning() bool {
	c, s := d.cfg, &d.cfg.Engine.Signals
	known := d.invented || c.Base == "bare" || d.wrote("states.run_current") || c.Motor.NoLoadA > 0 || c.Motor.RatedA > 0
	return !known && c.Drive == Electric && s[frame.MotorCurrent].Fitted && !s[frame.Running].Fitted && !s[frame.ShaftSpeed].Fitted
}

func (d *decoder) tellsTurning() bool {
	m, s := &d.cfg.Engine.Machine, &d.cfg.Engine.Signals
	return s[frame.Running].Fitted ||
		s[frame.MotorCurrent].Fitted && m.RunCurrentA > 0 ||
		s[frame.ShaftSpeed].Fitted && m.RunSpeedHz > 0 ||
		s[frame.OutletPressure].Fitted && m.RunOutletPa > 0
}
