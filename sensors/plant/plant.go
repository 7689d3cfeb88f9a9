package plant

import "math"

// Plant is a machine ready to be stepped. It never changes and may be shared
// by goroutines; all that moves is in a State.
type Plant struct {
	cfg Config
	// inletM3Pa and outletM3Pa are the springs of the two hoses, m3/Pa.
	inletM3Pa, outletM3Pa float64
	outletM3              float64
	hoseCellM3            float64
	supplyHose, outHose   hose
	slipM3sPa             float64
	pass                  line
	hoseArea, outArea     float64
}

// New checks a configuration and prepares a plant.
func New(cfg Config) (*Plant, error) {
	if err := cfg.Validate(); err != nil {
		return nil, err
	}
	area := func(bore float64) float64 { return math.Pi / 4 * bore * bore }
	p := &Plant{cfg: cfg, hoseArea: area(cfg.Supply.HoseBoreM), outArea: area(cfg.Outlet.HoseBoreM)}
	supplyM3 := p.hoseArea * cfg.Supply.HoseLengthM
	p.hoseCellM3 = supplyM3 / hoseCells
	p.outletM3 = p.outArea * cfg.Outlet.HoseLengthM
	p.inletM3Pa = supplyM3 / cfg.Supply.HoseBulkPa
	p.outletM3Pa = p.outletM3 / cfg.Outlet.HoseBulkPa
	p.supplyHose = newHose(cfg.Supply.HoseLengthM, cfg.Supply.HoseBoreM)
	p.outHose = newHose(cfg.Outlet.HoseLengthM, cfg.Outlet.HoseBoreM)
	p.slipM3sPa = cfg.Pump.SlipShare * cfg.Pump.DisplacementM3 * cfg.Pump.RatedSpeedHz / cfg.Pump.RatedOutletPa
	p.pass = line{lin: cfg.Pump.PassLossPa / cfg.Pump.RatedFlowM3s}
	return p, nil
}

// Config returns a copy of the machine's figures.
func (p *Plant) Config() Config { return p.cfg }

// Start returns a machine at rest: hoses full of supply water without
// pressure, everything else as warm as the air, the tank (if any) full.
func (p *Plant) Start(in *Inputs) State {
	s := State{Filling: 1, Powered: !in.PowerCut}
	warm := in.SupplyTempK - iceK
	for i := range s.HoseJ {
		s.HoseJ[i] = volHeatJM3K * p.hoseCellM3 * warm
	}
	s.InletJ = volHeatJM3K * p.cfg.Pump.LoopM3 * warm
	s.OutletJ = volHeatJM3K * p.outletM3 * warm
	s.MetalJ = p.cfg.Pump.MetalJK * (in.AmbientK - iceK)
	s.WindingJ = p.cfg.Drive.WindingJK * (in.AmbientK - iceK)
	s.TankM3 = p.cfg.Supply.TankM3
	s.TankJ = volHeatJM3K * s.TankM3 * warm
	p.temperatures(&s)
	p.takeStock(&s)
	s.Ledger.waterStartKg, s.Ledger.energyStartJ = s.Ledger.WaterStoredKg, s.Ledger.EnergyStoredJ
	return s
}

// Step advances the state by dtS seconds, 0.001 to 0.02. Shorter or longer
// steps stay stable, but longer ones blur the start of the motor. It does not
// allocate.
func (p *Plant) Step(s *State, in *Inputs, dtS float64) {
	sh := p.turn(s, in, dtS)
	h := p.prepare(s, in, dtS)
	h.solve()
	p.move(s, in, &h, &sh, dtS)
	p.temperatures(s)
	p.stepBreaker(s, in, dtS)
	p.wear(s, dtS)
	p.takeStock(s)
	s.TimeS += dtS
}

// temperatures derives what the state shows from the heat it holds.
func (p *Plant) temperatures(s *State) {
	s.InletK = iceK + s.InletJ/(volHeatJM3K*(p.cfg.Pump.LoopM3+s.InletM3))
	s.OutletK = iceK + s.OutletJ/(volHeatJM3K*(p.outletM3+s.OutletM3))
	s.MetalK = iceK + s.MetalJ/p.cfg.Pump.MetalJK
	s.WindingK = iceK + s.WindingJ/p.cfg.Drive.WindingJK
	if v := p.cfg.Supply.TankM3; v > 0 {
		s.TankLevel = s.TankM3 / v
	}
}

// takeStock counts the water and the energy that the state holds.
func (p *Plant) takeStock(s *State) {
	l := &s.Ledger
	l.WaterStoredKg = densityKgM3 * (s.InletM3 + s.OutletM3 + s.TankM3)
	w := 2 * math.Pi * s.SpeedHz
	l.EnergyStoredJ = s.InletJ + s.OutletJ + s.MetalJ + s.WindingJ + s.TankJ +
		p.springJ(s.InletM3, p.inletM3Pa) + p.springJ(s.OutletM3, p.outletM3Pa) +
		p.tankLiftJ(s.TankM3) + p.cfg.Drive.InertiaKgM*w*w/2
	for _, j := range s.HoseJ {
		l.EnergyStoredJ += j
	}
}

// springJ is the work stored in a hose that holds m3 more than at air pressure.
func (p *Plant) springJ(m3, m3Pa float64) float64 { return m3 * m3 / (2 * m3Pa) }

// tankLiftJ is the work that a tank's water can do down to the pump.
func (p *Plant) tankLiftJ(m3 float64) float64 {
	s := &p.cfg.Supply
	if s.TankM3 <= 0 {
		return 0
	}
	return densityKgM3 * gravityMS2 * m3 * (s.TankBaseM + s.TankDepthM*m3/(2*s.TankM3))
}
