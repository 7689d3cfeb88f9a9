package plant

import "math"

// electric is the motor's circuit solved for one slip.
type electric struct{ currentA, airgapNm, lineW, motorV, cordW float64 }

// solveMotor solves the equivalent circuit of an induction motor behind the
// resistance of cord and house wiring. Source: the per-phase circuit of any
// text on electric machines; torque = E^2 s R2/(R2^2+(s X2)^2)/w_sync. The
// auxiliary winding is taken as perfect: a real single-phase motor has less
// torque while it starts.
func solveMotor(d *Drive, lineV, lineOhm, speedHz float64) electric {
	if lineV <= 0 {
		return electric{}
	}
	slip := (d.SyncHz - speedHz) / d.SyncHz
	den := d.R2*d.R2 + slip*slip*d.X2*d.X2
	// Admittance of rotor, iron and magnetising reactance together.
	g := slip*d.R2/den + 1/d.Rc
	b := -slip*slip*d.X2/den - 1/d.Xm
	y2 := g*g + b*b
	r, x := d.R1+g/y2, d.X1-b/y2
	total2 := (r+lineOhm)*(r+lineOhm) + x*x
	i2 := lineV * lineV / total2
	e2 := i2 / y2
	return electric{
		currentA: math.Sqrt(i2),
		airgapNm: e2 * slip * d.R2 / den / (2 * math.Pi * d.SyncHz),
		lineW:    i2 * (r + lineOhm),
		motorV:   math.Sqrt(i2 * (r*r + x*x)),
		cordW:    i2 * lineOhm,
	}
}

// engineNm is the torque of an engine under a governor with droop.
func engineNm(d *Drive, on bool, speedHz float64) float64 {
	if !on {
		return 0
	}
	nm := (d.NoLoadHz - speedHz) / d.DroopHz * d.RatedNm
	return math.Min(math.Max(nm, 0), d.MaxNm)
}

// loadNm is the torque that the pump takes: the work on the water per radian,
// bearings and packing, and a bearing that binds. The friction fades below a
// tenth of a revolution per second so that a standing shaft has none.
func (p *Plant) loadNm(s *State, in *Inputs, speedHz float64) float64 {
	lift := math.Max(s.PumpGaugePa-s.InletGaugePa, 0)
	full := math.Max(s.Filling-s.AirShare, 0)
	work := p.cfg.Pump.DisplacementM3 * full * lift / (2 * math.Pi)
	return (work + p.cfg.Pump.FrictionNm + in.SeizeNm) * speedHz / (speedHz + 0.1)
}

// driveNm is the driving torque at a speed.
func (p *Plant) driveNm(in *Inputs, lineV, lineOhm, speedHz float64) float64 {
	if p.cfg.Drive.Kind == Engine {
		return engineNm(&p.cfg.Drive, in.SwitchOn, speedHz)
	}
	return solveMotor(&p.cfg.Drive, lineV, lineOhm, speedHz).airgapNm
}

// shaft is what the drive did in one step.
type shaft struct {
	electric
	// pumpW is the mean power that the pump took, driveW what the drive took
	// in, heatW what it lost.
	pumpW, driveW, heatW float64
}

// turn advances the shaft by one step: linearly implicit, since the slope of a
// motor's torque near its rated speed is as stiff as the step is long. What
// the pump took follows from the change of speed, so that no energy is lost to
// the method.
func (p *Plant) turn(s *State, in *Inputs, dtS float64) shaft {
	d := &p.cfg.Drive
	lineV, lineOhm := p.line(s, in)
	n0 := s.SpeedHz
	const h = 0.05
	net := func(n float64) float64 { return p.driveNm(in, lineV, lineOhm, n) - p.loadNm(s, in, n) }
	m0 := net(n0)
	slope := math.Min((net(n0+h)-m0)/h, 0)
	inertia := 2 * math.Pi * d.InertiaKgM
	n1 := math.Max(n0+dtS*m0/(inertia-dtS*slope), 0)
	if n1 < 1e-6 {
		n1 = 0
	}
	s.SpeedHz = n1
	sh := shaft{electric: solveMotor(d, lineV, lineOhm, n1)}
	nm := sh.airgapNm
	if d.Kind == Engine {
		nm = engineNm(d, in.SwitchOn, n1)
		sh.electric = electric{}
	}
	s.ShaftNm = nm - inertia*(n1-n0)/dtS
	mid := math.Pi * (n0 + n1)
	sh.pumpW = s.ShaftNm * mid
	sh.driveW = sh.lineW
	sh.heatW = sh.lineW - sh.cordW - nm*mid
	if d.Kind == Engine {
		sh.driveW, sh.heatW = nm*mid, 0
	}
	s.PumpHz = n1 * (1 - p.beltSlip(s, in))
	s.CurrentA, s.MotorV, s.ElectricW = sh.currentA, sh.motorV, sh.lineW
	if s.Powered && !in.SwitchOn {
		s.MotorV = p.cfg.Circuit.LineV * in.LineScale // an open switch takes nothing
	}
	return sh
}

// beltSlip is the share of the speed that the belt loses. It never loses all.
func (p *Plant) beltSlip(s *State, in *Inputs) float64 {
	load := 1.0
	if p.cfg.Drive.RatedNm > 0 {
		load = s.ShaftNm / p.cfg.Drive.RatedNm
	}
	return math.Min(math.Max(in.BeltSlip*load, 0), 0.9)
}

// line returns the voltage that drives the motor's circuit and the resistance
// before it. An open switch leaves the voltage at the machine but no current.
func (p *Plant) line(s *State, in *Inputs) (lineV, ohm float64) {
	c := &p.cfg.Circuit
	s.Powered = !in.PowerCut && !s.Tripped && c.LineV*in.LineScale > 0
	if p.cfg.Drive.Kind == Engine || !s.Powered || !in.SwitchOn {
		return 0, 0
	}
	return c.LineV * in.LineScale, c.BranchOhm + c.CordOhm + math.Max(in.ExtraCordOhm, 0)
}
