package plant

// move lets the water and the heat flow for one step. Each amount is taken
// from one place and given to another by the same number, so the ledger closes
// to rounding; the books are kept per step, in m3 and J.
func (p *Plant) move(s *State, in *Inputs, h *hydro, sh *shaft, dtS float64) {
	f := p.flows(s, h, dtS)
	l := &s.Ledger
	work := p.moveSupply(s, in, &f, dtS)
	// The pump's losses: what the shaft gave less what the water got.
	lift := f.pumpPa - h.inletPa
	beltJ := sh.pumpW * dtS * p.beltSlip(s, in)
	l.EnergyOutJ += beltJ
	lossJ := sh.pumpW*dtS - beltJ - lift*f.pump
	waterJ := 0.0
	if f.pump > 0 {
		waterJ = p.cfg.Pump.WaterHeatShare * lossJ
	}
	passed := f.pump*volHeatJM3K*(s.InletK-iceK) + waterJ
	back := 0.0
	if f.pump > 0 {
		back = f.bypass / f.pump
	}
	p.moveOutlet(s, in, h, &f, passed*(1-back), dtS)

	// The inlet node: what comes, what the pump and a leak take, and the heat
	// into which every lost pressure turns.
	springBefore := p.springJ(s.InletM3, p.inletM3Pa)
	dV := f.supply + f.bypass - f.pump - f.leak
	s.InletM3 += dV
	springJ := p.springJ(s.InletM3, p.inletM3Pa) - springBefore
	leakJ := f.leak * volHeatJM3K * (s.InletK - iceK)
	s.InletJ += f.supply*volHeatJM3K*f.hoseEndK + (work - h.inletPa*f.supply) +
		passed*back + lift*f.bypass + h.inletPa*dV - springJ -
		f.pump*volHeatJM3K*(s.InletK-iceK) - leakJ
	l.WaterOutKg += densityKgM3 * f.leak
	l.EnergyOutJ += leakJ + h.inletPa*f.leak

	p.moveMetal(s, in, sh, lossJ-waterJ, dtS)
	s.InletGaugePa, s.PumpGaugePa, s.OutletGaugePa = h.inletPa, f.pumpPa, h.outletPa
}

// flow holds what passed in one step, in m3.
type flow struct {
	supply, pump, bypass, nozzle, burst, leak float64
	pumpPa                                    float64
	hoseEndK                                  float64 // over 273.15 K
}

// flows evaluates every path at the pressures found and notes the rates.
func (p *Plant) flows(s *State, h *hydro, dtS float64) flow {
	pumpPa := h.outletPa
	if h.bypassing {
		pumpPa = h.inletPa + h.bypassLift
	}
	s.PumpM3s = h.pump(h.inletPa, pumpPa)
	s.BypassM3s = s.PumpM3s
	if !h.bypassing {
		s.BypassM3s = h.round(h.outletPa, s.PumpM3s)
	}
	s.SupplyM3s, s.LeakM3s, s.AirM3s = h.drawn(h.inletPa), h.spilled(h.inletPa), 0
	s.NozzleM3s, s.BurstM3s = h.out.flow(h.outletPa), h.burst.flow(h.outletPa)
	s.PackingM3s = h.packing.flow(h.outletPa)
	s.NPSHAvailableM, s.NPSHRequiredM = h.npshA(h.inletPa), h.npshR
	s.Filling, s.AirShare = 1, 0
	if h.idealM3s > 0 {
		s.Filling = h.filling(h.inletPa)
		s.AirM3s = min(h.air(h.inletPa), h.idealM3s*s.Filling)
		s.AirShare = s.AirM3s / h.idealM3s
	}
	return flow{
		supply: s.SupplyM3s * dtS, pump: s.PumpM3s * dtS, bypass: s.BypassM3s * dtS,
		nozzle: s.NozzleM3s * dtS, burst: (s.BurstM3s + s.PackingM3s) * dtS, leak: s.LeakM3s * dtS, pumpPa: pumpPa,
		hoseEndK: s.HoseJ[hoseCells-1] / (volHeatJM3K * p.hoseCellM3),
	}
}

// moveSupply brings water through tank and hose and returns the work that the
// source did on it.
func (p *Plant) moveSupply(s *State, in *Inputs, f *flow, dtS float64) (workJ float64) {
	l := &s.Ledger
	warm := in.SupplyTempK - iceK
	if p.cfg.Supply.TankM3 > 0 {
		workJ, warm = p.moveTank(s, in, f.supply, dtS)
	} else {
		workJ = f.supply * p.cfg.Supply.StaticGaugePa
		l.WaterInKg += densityKgM3 * f.supply
		l.EnergyInJ += workJ + f.supply*volHeatJM3K*warm
	}
	const wallWK = 3.0 // W/K of each part of the hose; common practice, no source
	wall := in.AmbientK - iceK + in.HoseSunK
	for i := range s.HoseJ {
		t := s.HoseJ[i] / (volHeatJM3K * p.hoseCellM3)
		sun := wallWK * (wall - t) * dtS
		s.HoseJ[i] += f.supply*volHeatJM3K*(warm-t) + sun
		l.EnergyInJ += sun
		warm = t
	}
	return workJ
}

// moveTank fills and drains the tank. What does not fit runs over and never
// counts as having come in.
func (p *Plant) moveTank(s *State, in *Inputs, drawn, dtS float64) (workJ, warm float64) {
	l := &s.Ledger
	before := p.tankLiftJ(s.TankM3)
	fill := min(max(in.TankFillM3s, 0)*dtS, max(p.cfg.Supply.TankM3-s.TankM3, 0))
	s.TankM3 += fill
	s.TankJ += fill * volHeatJM3K * (in.SupplyTempK - iceK)
	l.WaterInKg += densityKgM3 * fill
	full := p.tankLiftJ(s.TankM3)
	l.EnergyInJ += fill*volHeatJM3K*(in.SupplyTempK-iceK) + full - before
	if s.TankM3 > 0 {
		warm = s.TankJ / (volHeatJM3K * s.TankM3)
	}
	s.TankM3 -= drawn
	s.TankJ -= drawn * volHeatJM3K * warm
	return full - p.tankLiftJ(s.TankM3), warm
}

// moveOutlet feeds the outlet hose and lets water out of its end. What the
// nozzle turns into speed leaves as energy; the hose's friction heats it.
func (p *Plant) moveOutlet(s *State, in *Inputs, h *hydro, f *flow, passedJ, dtS float64) {
	l := &s.Ledger
	q := s.NozzleM3s
	s.NozzleGaugePa = h.outletPa - q*(h.outHose.lin+h.outHose.quad*q)
	springBefore := p.springJ(s.OutletM3, p.outletM3Pa)
	dV := f.pump - f.bypass - f.nozzle - f.burst
	s.OutletM3 += dV
	springJ := p.springJ(s.OutletM3, p.outletM3Pa) - springBefore
	gone := (f.nozzle + f.burst) * volHeatJM3K * (s.OutletK - iceK)
	const wallWK = 15.0 // W/K of the whole hose; common practice, no source
	air := wallWK * (s.OutletK - in.AmbientK) * dtS
	// Where the pump stands in the way of the supply, its pressure and the
	// hose's are the same; while bypassing nothing enters.
	s.OutletJ += passedJ + h.outletPa*dV - springJ +
		(h.outletPa-s.NozzleGaugePa)*f.nozzle - gone - air
	l.WaterOutKg += densityKgM3 * (f.nozzle + f.burst)
	l.EnergyOutJ += gone + air + s.NozzleGaugePa*f.nozzle + h.outletPa*f.burst
}

// moveMetal heats the head and the winding and lets them cool.
func (p *Plant) moveMetal(s *State, in *Inputs, sh *shaft, metalJ, dtS float64) {
	c := &p.cfg
	toWater := c.Pump.MetalWaterWK * (s.MetalK - s.InletK) * dtS
	toAir := c.Pump.MetalAirWK * (s.MetalK - in.AmbientK) * dtS
	s.MetalJ += metalJ - toWater - toAir
	s.InletJ += toWater
	cool := c.Drive.WindingWK * (s.WindingK - in.AmbientK) * dtS
	s.WindingJ += sh.heatW*dtS - cool
	s.Ledger.EnergyInJ += sh.driveW * dtS
	s.Ledger.EnergyOutJ += toAir + cool + sh.cordW*dtS
}
