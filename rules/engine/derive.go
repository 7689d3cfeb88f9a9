package engine

import (
	"headroom/rules/cavitation"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/suction"
)

// figure is a computed quantity and how far it is known.
type figure struct {
	v       float64
	judge   Judge
	blame   frame.Channel
	assumed bool
}

func known(v float64, assumed bool) figure {
	return figure{v: v, judge: Watching, blame: frame.NumChannels, assumed: assumed}
}

func unknown(j Judge, c frame.Channel) figure { return figure{judge: j, blame: c} }

// ok reports whether the figure may be used; otherwise it makes the verdict
// say why not.
func (g figure) ok(v *Verdict) bool {
	if g.judge == Watching {
		return true
	}
	v.cannot(g.judge, g.blame)
	return false
}

// derived holds the physics that several rules share, computed once a tick.
type derived struct {
	air, vapour, density, speed, expectedFlow, npshA, npshR figure
	// margin is what is left of NPSH, coolMargin what would be with cool
	// water, tempHeadroom how much warmer the water may get; pulse is the
	// head that the pump's pulse takes.
	margin, coolMargin, tempHeadroom, pulse figure
}

func (e *Engine) derive(s *State) {
	d, smp, m := &s.derived, &s.out.Samples, &e.cfg.Machine
	d.air = e.airPressure(smp)
	d.speed = m.speed(smp)
	d.vapour, d.density = e.waterFigures(smp)
	d.expectedFlow = m.expected(d.speed)
	d.npshR = e.npshRequired(d.speed)
	d.npshA = e.npshAvailable(smp, d)
	d.pulse = e.pulseHead(s)
	e.deriveMargin(s)
}

// airPressure is the barometer's, or that of the configured altitude.
func (e *Engine) airPressure(smp *[frame.NumChannels]frame.Sample) figure {
	if b := smp[frame.AirPressure]; b.OK() {
		return known(b.Value, false)
	}
	if !e.airPaOK {
		return unknown(OutsideModel, frame.AirPressure)
	}
	return known(e.airPa, e.cfg.Signals[frame.AirPressure].Fitted)
}

// speed is the measured one, or the plate's where none is measured.
func (m *Machine) speed(smp *[frame.NumChannels]frame.Sample) figure {
	if n := smp[frame.ShaftSpeed]; n.OK() {
		return known(n.Value, false)
	}
	if m.RatedSpeedHz <= 0 {
		return unknown(NotSet, frame.NumChannels)
	}
	return known(m.RatedSpeedHz, true)
}

// waterFigures are vapour pressure and density of plain water. The density is
// taken at no less than one atmosphere: it hardly depends on pressure, and
// water that is about to boil must not fall out of the model.
func (e *Engine) waterFigures(smp *[frame.NumChannels]frame.Sample) (vapour, density figure) {
	s := smp[frame.WaterTemp]
	if !s.OK() {
		g := unknown(missingJudge(&e.cfg, frame.WaterTemp), frame.WaterTemp)
		return g, g
	}
	const oneAtmPa = 101_325
	p, ok := e.water.At(s.Value, oneAtmPa)
	if !ok {
		g := unknown(OutsideModel, frame.WaterTemp)
		return g, g
	}
	return known(p.SatPressurePa, false), known(p.DensityKgM3, false)
}

// expected is the flow that the healthy pump draws at its speed.
func (m *Machine) expected(speed figure) figure {
	if m.DisplacementM3 <= 0 || m.VolumetricEff <= 0 {
		return unknown(NotSet, frame.NumChannels)
	}
	if speed.judge != Watching {
		return speed
	}
	q, ok := cavitation.IdealFlowM3s(m.DisplacementM3, speed.v, m.VolumetricEff)
	if !ok {
		return unknown(OutsideModel, frame.ShaftSpeed)
	}
	return known(q, speed.assumed)
}

// npshRequired is the pump's own figure at its speed, or the configured
// assumption where the pump's papers state none.
func (e *Engine) npshRequired(speed figure) figure {
	m := &e.cfg.Machine
	if m.NPSHPoints == 0 {
		if m.AssumedNPSHRM <= 0 {
			return unknown(NotSet, frame.NumChannels)
		}
		return known(m.AssumedNPSHRM, true)
	}
	if speed.judge != Watching {
		return speed
	}
	h, basis := e.npshR.AtM(speed.v)
	if basis == suction.NoBasis {
		return unknown(OutsideModel, frame.ShaftSpeed)
	}
	return known(h, speed.assumed)
}

func (e *Engine) npshAvailable(smp *[frame.NumChannels]frame.Sample, d *derived) figure {
	p := smp[frame.InletPressure]
	switch {
	case !p.OK():
		return unknown(missingJudge(&e.cfg, frame.InletPressure), frame.InletPressure)
	case d.vapour.judge != Watching:
		return d.vapour
	case d.air.judge != Watching:
		return d.air
	}
	var velocityMS float64
	if q := smp[frame.Flow]; q.OK() && e.inletAreaM2 > 0 {
		velocityMS = q.Value / e.inletAreaM2
	}
	h, ok := suction.AvailableM(suction.Inlet{
		GaugePa: p.Value, AirPa: d.air.v, VapourPa: d.vapour.v, DensityKgM3: d.density.v,
		VelocityMS: velocityMS, GaugeHeightM: e.cfg.Machine.InletGaugeHeightM,
	})
	if !ok {
		return unknown(OutsideModel, frame.InletPressure)
	}
	return known(h, d.air.assumed)
}

// pulseHead is the acceleration head of the rigid inlet line. The elastic hose
// before it gives with the pulse and is left out: rigid-column theory would
// make it many times the head there is. Where the length isn't known it is left
// out too; where the flow isn't, the line is taken to carry what the healthy
// pump draws, so that a flow meter that fails doesn't make the margin better.
func (e *Engine) pulseHead(s *State) figure {
	p, d := &e.cfg.Plant, &s.derived
	if p.InletLineM <= 0 || e.inletAreaM2 <= 0 {
		return known(0, false)
	}
	flow := e.lineFlow(s)
	switch {
	case flow.judge != Watching:
		return flow
	case flow.v == 0:
		return known(0, false)
	case d.speed.judge != Watching:
		return d.speed
	}
	a, ok := suction.Accelerate(suction.Line{
		LengthM: p.InletLineM, VelocityMS: flow.v / e.inletAreaM2, SpeedHz: d.speed.v, Pump: p.PumpKind, LiquidK: p.LiquidK,
	})
	if !ok {
		return unknown(OutsideModel, frame.Flow)
	}
	return known(a.HeadM, flow.assumed)
}

// lineFlow is what the inlet line carries: the measured flow, nothing while the
// outlet is closed, or else what the pump must draw, as an assumption.
func (e *Engine) lineFlow(s *State) figure {
	if q := s.out.Samples[frame.Flow]; q.OK() {
		return known(q.Value, false)
	}
	switch want := s.derived.expectedFlow; {
	case s.machine.State != machine.Running:
		return known(0, false)
	case want.judge == Watching:
		return known(want.v, true)
	case e.cfg.Machine.RatedFlowM3s > 0:
		return known(e.cfg.Machine.RatedFlowM3s, true)
	}
	return unknown(missingJudge(&e.cfg, frame.Flow), frame.Flow)
}

// missingJudge tells a channel that isn't there from one that has failed.
func missingJudge(c *Config, ch frame.Channel) Judge {
	if !c.Signals[ch].Fitted {
		return NotFitted
	}
	return NoReading
}
