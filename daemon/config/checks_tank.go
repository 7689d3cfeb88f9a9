package config

import (
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// checkTank notes the defaults that are made for a tap where the machine draws
// from a tank, which brings a few kilopascals or suction.
func (d *decoder) checkTank() {
	e := &d.cfg.Engine
	if d.invented || !e.Signals[frame.TankLevel].Fitted || !e.Signals[frame.InletPressure].Fitted {
		return
	}
	if e.Rules[engine.InletLow].On && !d.wrote("rules.inlet_low.warn") && !d.wrote("rules.inlet_low.act") {
		d.note(d.where("rules.inlet_low.on", "channels.tank_level.fitted"), "rules.inlet_low",
			"has the limits of a tap, "+ruleDefaults[engine.InletLow].warn+" and "+ruleDefaults[engine.InletLow].act+", and a tank brings less, so a pump that draws from one is called starving as long as it works",
			"write warn, act and span for the tank, such as \"-15 kPa\", \"-30 kPa\" and \"30 kPa\"")
	}
	if e.Signals[frame.Flow].Fitted && !d.wrote("states.fed_inlet") {
		d.note(d.where("states.fed_inlet", "channels.tank_level.fitted"), "states.fed_inlet",
			"is a tap's, and a tank brings less, so a closed outlet is told from a dry pump by the level alone",
			"write a pressure a little below what the gauge reads with the pump at rest; it may be below 0")
	}
}
