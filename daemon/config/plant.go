package config

import (
	"math"
	"strconv"
	"strings"

	"headroom/rules/circuit/breaker"
	"headroom/rules/circuit/cord"
	"headroom/rules/circuit/motor"
	"headroom/rules/engine"
	"headroom/rules/hydraulics"
	"headroom/rules/nozzle"
	"headroom/rules/suction"
	"headroom/rules/water"
)

// What the plate leaves open, filled with common practice, no source.
const (
	// waterTempK and waterPa are tap water in the high-pressure line.
	waterTempK, waterPa = 288.15, 101325
	// orificeCd is the discharge coefficient of a rounded jet's hole.
	orificeCd = 0.9
)

// derivePlant turns plates and lengths into the figures that the rules around
// motor, circuit and nozzle ask for. What isn't known stays 0, and the rules
// say so.
func (d *decoder) derivePlant() {
	p := &d.cfg.Engine.Plant
	p.PumpKind, p.LiquidK = pumpKinds[d.cfg.Pump.Type], suction.KDeaeratedWater
	p.NozzleFactor = d.cfg.Nozzle.factor()
	p.HoseCoefficient = hoseCoefficient(d.cfg.PressureHose, d.cfg.Engine.Machine.RatedFlowM3s)
	if d.cfg.Drive == Electric {
		d.deriveElectric(p)
	}
}

// deriveElectric is the part that an engine does not have.
func (d *decoder) deriveElectric(p *engine.Plant) {
	m, c := &d.cfg.Motor, &d.cfg.Circuit
	p.RatedA, p.NoLoadA, p.RatedV, p.CircuitV = m.RatedA, m.NoLoadA, m.VoltageV, c.VoltageV
	p.Breaker = breaker.Config{Standard: c.Standard, RatingA: c.RatingA}
	if _, err := breaker.New(p.Breaker); err != nil {
		p.Breaker = breaker.Config{} // told by checkBreaker
	}
	if m.RatedA > 0 {
		p.Start = motor.DefaultStart(m.RatedA)
		p.Overload = overload(m)
	}
	if g, ok := cord.ParseGauge(d.gauge()); ok {
		p.CordOhm, _ = cord.LoopOhm(g, d.cfg.Cord.LengthM, cord.WorkingTempK)
	}
}

// gauge is the cord's size in the words of the cord's tables.
func (d *decoder) gauge() string {
	number, symbol := splitNumber(d.texts["cord.gauge"])
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return ""
	}
	return strconv.FormatFloat(v, 'f', -1, 64) + " " + strings.ReplaceAll(symbol, "²", "2")
}

// overload models the quickest relay of the class, as the question is how soon
// it may trip. Without a class there is no model.
func overload(m *Motor) motor.OverloadConfig {
	k := math.Min(math.Max(m.ServiceFactor, motor.ClassMinK), motor.ClassMaxK)
	tau, _, ok := motor.TauForClass(tripClasses[m.TripClass], k)
	if !ok {
		return motor.OverloadConfig{}
	}
	return motor.OverloadConfig{RatedA: m.RatedA, K: k, TauS: tau}
}

// platedRoom is how far a motor at its plate's current must stay from the
// warning of its heat. Common practice, no source.
const platedRoom = 0.05

// deriveHeatWarn moves the first limit of the motor's heat, where the file
// leaves it, to halfway between where the rated current levels off and the
// second limit, if the default would lie too near: a motor at its plate's
// current is none to warn of. Without a service factor it levels off at
// 1/1.05² = 91 %.
func (d *decoder) deriveHeatWarn() {
	l, full := &d.cfg.Engine.Rules[engine.MotorHeat], d.ratedHeat()
	if !d.wrote("rules.motor_heat.warn") && full > l.Warn-platedRoom && full < l.Act {
		l.Warn = (full + l.Act) / 2
	}
}

// ratedHeat is the used share of the motor's thermal capacity that its rated
// current levels off at; 0 where there is no model.
func (d *decoder) ratedHeat() float64 {
	o, err := motor.NewOverload(d.cfg.Engine.Plant.Overload)
	if err != nil {
		return 0
	}
	u, _ := o.LevelsOffAt(d.cfg.Motor.RatedA)
	return u
}

// tripClasses and pumpKinds are constant data.
var tripClasses = map[int64]motor.Class{10: motor.Class10, 20: motor.Class20, 30: motor.Class30}

var pumpKinds = map[string]suction.PumpKind{
	"simplex_single_acting": suction.SimplexSingle, "simplex_double_acting": suction.SimplexDouble,
	"duplex_single_acting": suction.DuplexSingle, "duplex_double_acting": suction.DuplexDouble,
	"triplex_single_acting": suction.Triplex, "triplex_double_acting": suction.Triplex,
	"quintuplex_single_acting": suction.Quintuplex, "septuplex_single_acting": suction.Septuplex,
}

// settle lets a bore in the file go before the default's number.
func (n *Nozzle) settle(d *decoder) {
	if d.wrote("nozzle.orifice_bore") && !d.wrote("nozzle.orifice_number") {
		n.Number = 0
	}
}

// factor is flow over the root of pressure; 0 where the nozzle isn't known.
func (n *Nozzle) factor() float64 {
	if n.Number > 0 {
		f, _ := nozzle.FactorOfNumber(n.Number)
		return f
	}
	rho, ok := water.DensityKgM3(waterTempK, waterPa)
	if !ok || n.BoreM <= 0 {
		return 0
	}
	f, _ := nozzle.Factor(orificeCd, float64(n.Orifices)*math.Pi/4*n.BoreM*n.BoreM, rho)
	return f
}

// hoseCoefficient is the hose's friction at the rated flow over its square; 0
// where one of them isn't known.
func hoseCoefficient(h Hose, flowM3s float64) float64 {
	props, ok := water.Props(waterTempK, waterPa)
	if !ok || h.BoreM <= 0 || h.LengthM <= 0 || flowM3s <= 0 {
		return 0
	}
	pipe := hydraulics.Pipe{LengthM: h.LengthM, BoreM: h.BoreM, RoughnessM: hydraulics.DrawnTubingRoughnessM}
	loss, ok := hydraulics.PipeLoss(pipe, hydraulics.Water{DensityKgM3: props.DensityKgM3, ViscosityPaS: props.ViscosityPaS}, flowM3s)
	if !ok {
		return 0
	}
	c, _ := nozzle.HoseCoefficient(loss.Pa, flowM3s)
	return c
}
