package config

import (
	"fmt"
	"slices"

	"headroom/rules/circuit/breaker"
	"headroom/rules/circuit/motor"
	"headroom/rules/frame"
)

// checkPlant finds figures of the plant that contradict each other.
func (d *decoder) checkPlant() {
	c, m := d.cfg, &d.cfg.Engine.Machine
	if c.Motor.RatedA > 0 && c.Motor.NoLoadA >= c.Motor.RatedA && d.sound("motor.rated_current", "motor.no_load_current") {
		d.report(d.where("motor.no_load_current", "motor.rated_current"), "motor.no_load_current",
			d.written("motor.no_load_current")+" is not below motor.rated_current, "+d.written("motor.rated_current"), "copy both from the plate")
	}
	if c.Motor.RatedA > 0 && m.RunCurrentA >= c.Motor.RatedA && d.sound("motor.rated_current", "states.run_current") {
		d.report(d.where("states.run_current", "motor.rated_current"), "states.run_current",
			d.written("states.run_current")+" is not below motor.rated_current, "+d.written("motor.rated_current")+", so the pump would never count as turning",
			"write about half of the no-load current")
	}
	if c.Drive == Electric && c.Circuit.RatingA > 0 && c.Motor.RatedA > c.Circuit.RatingA && d.sound("motor.rated_current", "circuit.rating") {
		d.note(d.where("motor.rated_current", "circuit.rating"), "motor.rated_current",
			d.written("motor.rated_current")+" is above circuit.rating, "+d.written("circuit.rating"), "use a larger circuit or a smaller motor")
	}
	d.checkMotorPlate()
	if d.shares["states.flow_on"] && d.wrote("states.flow_on") && m.RatedFlowM3s == 0 {
		d.report(d.where("states.flow_on"), "states.flow_on", "is a share of machine.rated_flow, which is not set", "set machine.rated_flow, or write a flow with its unit")
	}
	if m.RatedFlowM3s > 0 && m.FlowOnM3s >= m.RatedFlowM3s && d.sound("states.flow_on", "machine.rated_flow") {
		d.report(d.where("states.flow_on", "machine.rated_flow"), "states.flow_on", "is not below machine.rated_flow, so water would never count as flowing", `write for example "8 %"`)
	}
	if d.wrote("nozzle.orifice_bore") && d.wrote("nozzle.orifice_number") {
		d.report(d.where("nozzle.orifice_bore"), "nozzle.orifice_bore", "stands beside orifice_number, and one of them must be wrong", "keep one")
	}
	d.checkBreaker()
	d.checkPump()
	d.checkNPSH()
}

// checkMotorPlate notes a plate whose figures don't go together, where the file
// gives all three: a current typed for the other voltage, or an advertised peak
// for the power at the shaft.
func (d *decoder) checkMotorPlate() {
	m := &d.cfg.Motor
	keys := []string{"motor.rated_current", "motor.rated_power", "motor.voltage"}
	for _, k := range keys {
		if d.cfg.Drive != Electric || !d.wrote(k) || !d.sound(k) {
			return
		}
	}
	share, plate := motor.CheckPlate(m.RatedA, m.RatedPowerW, m.VoltageV)
	if plate == motor.PlateTooLow || plate == motor.PlateTooHigh {
		d.note(d.where(keys...), keys[0],
			fmt.Sprintf("is %.0f %% of what NFPA 70 table 430.248 gives a single-phase motor of that power and voltage", 100*share),
			"copy all three from the plate")
	}
}

// checkBreaker asks the breaker's model whether there is such a breaker, and
// notes a cord that its tables don't have.
func (d *decoder) checkBreaker() {
	c := &d.cfg.Circuit
	if c.Standard != breaker.StandardUnknown && c.RatingA > 0 && d.sound("circuit.rating") {
		if _, err := breaker.New(breaker.Config{Standard: c.Standard, RatingA: c.RatingA}); err != nil {
			d.report(d.where("circuit.rating", "circuit.standard"), "circuit.rating", err.Error(), "")
		}
	}
	if d.cfg.Drive == Electric && d.wrote("cord.gauge") && d.sound("cord.gauge", "cord.length") && d.cfg.Cord.LengthM > 0 && d.cfg.Engine.Plant.CordOhm == 0 {
		d.note(d.where("cord.gauge"), "cord.gauge", d.written("cord.gauge")+" is in no cord's table, so the voltage lost in it is not computed", "cords are 10 to 18 AWG or 0.75 to 10 mm2")
	}
}

// checkPump holds a displacement against a rated flow where both were given.
func (d *decoder) checkPump() {
	m := &d.cfg.Engine.Machine
	given := d.wrote("machine.displacement") && d.wrote("machine.rated_flow")
	if !given || m.RatedSpeedHz == 0 || m.DisplacementM3 == 0 || !d.sound("machine.displacement", "machine.rated_flow", "machine.rated_speed") {
		return
	}
	share := m.RatedFlowM3s / (m.DisplacementM3 * m.RatedSpeedHz)
	switch at := d.where("machine.displacement"); {
	case share > 1.02:
		d.report(at, "machine.displacement", fmt.Sprintf("at the rated speed the pump would deliver %.0f %% of what it displaces", 100*share), "check displacement, rated_flow and rated_speed")
	case share < m.VolumetricEff-0.1 || share > m.VolumetricEff+0.1:
		d.note(at, "machine.displacement", fmt.Sprintf("rated flow over displacement and speed is %.0f %%, far from the volumetric efficiency of %.0f %%", 100*share, 100*m.VolumetricEff), "set volumetric_efficiency, or leave displacement out")
	}
}

func (d *decoder) checkNPSH() {
	m := &d.cfg.Engine.Machine
	for i := 1; i < m.NPSHPoints; i++ {
		path, before := element("machine.npsh_required", i+1)+".speed", element("machine.npsh_required", i)+".speed"
		if m.NPSHRequired[i].SpeedHz <= m.NPSHRequired[i-1].SpeedHz && d.set[path] && d.set[before] {
			d.report(d.where(path), path, d.written(path)+" does not follow "+d.written(before), "order the points by rising speed, each speed once")
		}
	}
}

// checkChannels finds bands that are empty and lists that name nothing.
func (d *decoder) checkChannels() {
	for ch := range frame.NumChannels {
		s, path := &d.cfg.Engine.Signals[ch], "channels."+ch.String()
		if s.Min >= s.Max && d.sound(path+".min", path+".max") {
			d.report(d.where(path+".min", path+".max"), path+".min", d.written(path+".min")+" is not below max, "+d.written(path+".max"), "swap the two")
		}
	}
	n := &d.cfg.Engine.Normal
	if n.LearnS > 0 && n.WindowS >= n.LearnS {
		d.report(d.where("normal.window", "normal.learn"), "normal.window", "is not shorter than learn, so nothing could be learned", "learn for at least ten windows")
	}
	for ch := range frame.NumChannels {
		if n.LearnS > 0 && n.Channels[ch] && !d.cfg.Engine.Signals[ch].Fitted {
			d.note(d.where("normal.channels", "normal.learn"), "normal.channels", ch.String()+" is not fitted, so it is not compared", "fit it or leave it out")
		}
	}
	if n.LearnS > 0 && !slices.Contains(n.Channels[:], true) {
		d.report(d.where("normal.channels", "normal.learn"), "normal.channels", "names no channel, so nothing could be learned", `write for example ["flow"]`)
	}
}

// checkServer wants both files of a certificate, or neither.
func (d *decoder) checkServer() {
	s := &d.cfg.Server
	for _, f := range []struct{ key, file string }{{"server.tls_cert", s.Cert}, {"server.tls_key", s.Key}} {
		key, file := f.key, f.file
		if s.TLS == TLSFiles && file == "" && d.sound(key) {
			d.report(d.where("server.tls"), key, `is missing, and server.tls = "files" needs it`, "name the file, or write tls = \"local\"")
		}
		if s.TLS != TLSFiles && file != "" && d.sound(key) {
			d.note(d.where(key), key, "isn't used, because server.tls is "+d.written("server.tls"), `write tls = "files"`)
		}
	}
}
