package config

import (
	"slices"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// longestBypassS is the longest time on a closed trigger that a limit may
// allow, an hour: in a loop of some litres the pump's own power boils the water
// long before (1 kW heats 5 L by 80 K in half an hour: 4.2 kJ/(kg K)). A bypass
// into a tank may last longer, and then the rule has nothing to say.
const longestBypassS = 3600

// checkSense reports limits that are each in range and together can't work.
func (d *decoder) checkSense(r engine.RuleID) {
	l, path := &d.cfg.Engine.Rules[r], "rules."+r.String()
	if l.Deadband > l.Span && l.Span > 0 && d.sound(path+".deadband", path+".span") {
		d.report(d.where(path+".deadband", path+".span"), path+".deadband",
			d.written(path+".deadband")+" is more than span, "+d.written(path+".span")+", so the alarm would stay where headroom is ample",
			"write a deadband well below the span")
	}
	if r != engine.Bypass {
		return
	}
	for _, stage := range []struct {
		key   string
		has   bool
		limit float64
	}{{path + ".warn", l.HasWarn, l.Warn}, {path + ".act", l.HasAct, l.Act}} {
		if stage.has && stage.limit > longestBypassS && d.sound(stage.key) {
			d.report(d.where(stage.key), stage.key, d.written(stage.key)+" is longer than any loop stays cool, so it would never come in time",
				"write minutes, or on = false where the bypass goes into a tank")
		}
	}
}

// checkFitted notes a config by which nothing at all is read.
func (d *decoder) checkFitted() {
	fitted := func(s engine.Signal) bool { return s.Fitted }
	c := d.cfg
	if c.Simulator.On || len(c.CSV.Columns) > 0 || slices.ContainsFunc(c.Engine.Signals[:frame.NumChannels], fitted) {
		return
	}
	d.note(d.where("base", "simulator.on"), "channels", "no channel is fitted and the simulator is off, so nothing at all is watched",
		"name the sensors (headroom scan proposes them), or write simulator.on = true")
}
