package config

import (
	"strconv"

	"headroom/rules/engine"
)

// checkOutputs finds outputs that could never work, and a stop that nobody
// clearly asked for.
func (d *decoder) checkOutputs() {
	o := &d.cfg.Outputs
	for _, x := range []struct {
		path string
		on   bool
		g    *GPIO
	}{
		{"outputs.beacon", o.Beacon.On, &o.Beacon.GPIO}, {"outputs.horn", o.Horn.On, &o.Horn.GPIO}, {"outputs.stop", o.Stop.On, &o.Stop.GPIO},
		{"outputs.reset", o.Reset.On, &o.Reset.GPIO}, {"outputs.hold", o.Hold.On, &o.Hold.GPIO},
	} {
		if x.on {
			d.checkLine(x.path, x.g)
		}
	}
	d.checkStop()
	d.checkSharedLines()
	if d.cfg.Simulator.On && o.Any() {
		d.note(d.where("outputs.stop.on", "outputs.beacon.on", "outputs.horn.on"), "outputs", "stay off while the readings are simulated", "")
	}
}

func (d *decoder) checkStop() {
	o, s := &d.cfg.Outputs, &d.cfg.Outputs.Stop
	confirmed := s.Confirm == Confirmed
	at := func(key string) position { return d.where("outputs.stop."+key, "outputs.stop.on") }
	if s.Confirm != "" && !confirmed {
		d.report(at("confirm"), "outputs.stop.confirm", shortQuote(s.Confirm)+" confirms nothing", `write "`+Confirmed+`", or leave it out`)
		return
	}
	if s.On != confirmed && s.On {
		d.report(at("on"), "outputs.stop.on", "is true, but confirm does not say so too: a stop relay takes two settings that agree",
			`write confirm = "`+Confirmed+`" once its wiring has been tried, or on = false`)
	}
	if s.On != confirmed && confirmed {
		d.report(at("confirm"), "outputs.stop.confirm", "says that the machine may be stopped, but on is false: a stop relay takes two settings that agree", "write on = true, or leave confirm out")
	}
	if !s.On {
		for path, b := range map[string]Button{"outputs.reset.on": o.Reset, "outputs.hold.on": o.Hold} {
			if b.On && !confirmed {
				d.note(d.where(path), path, "the button does nothing without a stop relay", "leave it out")
			}
		}
		return
	}
	d.checkStopRules()
	if !o.Reset.On && !s.RunAtStart {
		d.report(at("on"), "outputs.stop", "waits for a reset and there is no button for it, so the machine could never run", `set on and line under [outputs.reset]`)
	}
	if s.PulseEvery != 0 && s.PulseEvery.Seconds() < 0.025 {
		d.report(at("pulse_every"), "outputs.stop.pulse_every", d.written("outputs.stop.pulse_every")+" is out of range", "allowed: 25 ms to 1 s, or 0 s for a steady level")
	}
	if s.PulseEvery != 0 && s.EnergisedStops {
		d.report(at("pulse_every"), "outputs.stop.pulse_every", "needs polarity = \"energised_runs\": pulses mean that the machine may run", "leave one of them out")
	}
	if o.Hold.On && s.Override == 0 {
		d.note(d.where("outputs.hold.on"), "outputs.hold.on", "the button does nothing, since outputs.stop.override is 0", "set override, or leave the button out")
	}
}

func (d *decoder) checkStopRules() {
	any := false
	for r := range engine.NumRules {
		l := &d.cfg.Engine.Rules[r]
		if !d.cfg.Outputs.Stop.Rules[r] {
			continue
		}
		any = true
		if key := d.plateLacks(r); l.On && key != "" {
			d.note(d.where("outputs.stop.rules"), "outputs.stop.rules", r.String()+" is not watching, because "+key+" is not set, so it stops nothing", "write "+key+", or leave it out")
		} else if !l.On || !l.HasAct {
			d.note(d.where("outputs.stop.rules"), "outputs.stop.rules", r.String()+" is off or has no second stage, so it stops nothing", "switch it on with act = ..., or leave it out")
		}
	}
	if !any && d.sound("outputs.stop.rules") {
		d.report(d.where("outputs.stop.rules", "outputs.stop.on"), "outputs.stop.rules", "names no rule, so nothing would ever stop the machine", `write for example rules = ["no_flow"]`)
	}
}

// checkLine wants a line's name, or its chip and number.
func (d *decoder) checkLine(path string, g *GPIO) {
	named, counted := g.Line != "", d.wrote(path+".offset")
	at := d.where(path+".line", path+".offset", path+".chip", path+".on")
	if first, ok := d.inFile[path]; ok && !d.wrote(path+".line") && !counted {
		at = first
	}
	switch {
	case !d.sound(path+".line", path+".offset", path+".chip"):
	case named && counted:
		d.report(at, path+".line", "stands beside offset, and one of them must be wrong", "keep the name")
	case !named && !counted:
		d.report(at, path, "has no line", `write line = "GPIO17", as "headroom scan" lists it, or chip and offset`)
	case counted && g.Chip == "":
		d.report(d.where(path+".offset"), path+".offset", "means nothing without a chip", `write chip = "/dev/gpiochip0"`)
	}
}

// checkSharedLines finds a GPIO line that two parts use.
func (d *decoder) checkSharedLines() {
	type use struct {
		path string
		g    GPIO
	}
	var all []use
	s, o := &d.cfg.Sensors, &d.cfg.Outputs
	for i := range s.Pulses {
		all = append(all, use{element("sensors.pulse", i+1), s.Pulses[i].GPIO})
	}
	for i := range s.Switches {
		all = append(all, use{element("sensors.switch", i+1), s.Switches[i].GPIO})
	}
	for _, x := range []struct {
		path string
		on   bool
		g    GPIO
	}{{"outputs.beacon", o.Beacon.On, o.Beacon.GPIO}, {"outputs.horn", o.Horn.On, o.Horn.GPIO}, {"outputs.stop", o.Stop.On, o.Stop.GPIO}, {"outputs.reset", o.Reset.On, o.Reset.GPIO}, {"outputs.hold", o.Hold.On, o.Hold.GPIO}} {
		if x.on {
			all = append(all, use{x.path, x.g})
		}
	}
	seen := map[string]string{}
	for _, u := range all {
		key := u.g.Chip + "|" + u.g.Line
		switch {
		case u.g.Line == "" && u.g.Chip == "":
			continue // told already
		case u.g.Line == "":
			key += "|" + strconv.FormatInt(u.g.Offset, 10)
		}
		if first, twice := seen[key]; twice {
			d.report(d.where(u.path+".line", u.path+".offset"), u.path, "is on the same GPIO line as "+first, "give each a line of its own")
			continue
		}
		seen[key] = u.path
	}
}
