package plant

import "math"

// hydro is the water side of one step: two unknown pressures, at the pump
// inlet and in the outlet hose, and everything that is known while they are
// sought. Pressures are gauge.
type hydro struct {
	inletPerS, outletPerS float64 // spring over step, m3/(s Pa)
	inlet0, outlet0       float64 // pressures before the step
	source                float64 // static pressure less what the neighbour takes
	supply, leak, pass    line
	out, outHose, burst   line
	packing               line
	shut, spill           bool // no supply; a leak at the inlet
	leakM2                float64
	idealM3s, slip        float64
	vapour                float64 // vapour pressure, gauge
	npshR                 float64
	set, gain             float64 // unloader
	bypassing             bool
	bypassLift            float64

	// The result.
	inletPa, outletPa float64
}

// prepare gathers what the step knows.
func (p *Plant) prepare(s *State, in *Inputs, dtS float64) hydro {
	c := &p.cfg
	mu := viscosityPaS(s.InletK)
	h := hydro{
		inletPerS: p.inletM3Pa / dtS, outletPerS: p.outletM3Pa / dtS,
		vapour:   vapourAbsPa(s.InletK) - c.AirAbsPa,
		idealM3s: c.Pump.DisplacementM3 * s.PumpHz,
		slip:     p.slipM3sPa + math.Max(in.ValveWear, 0)*c.Pump.RatedFlowM3s/c.Pump.RatedOutletPa,
		pass:     p.pass,
	}
	// Less water than the spring holds at boiling leaves a hollow of vapour,
	// which must fill before the pressure rises.
	h.inlet0 = s.InletM3 / p.inletM3Pa
	h.outlet0 = s.OutletM3 / p.outletM3Pa
	h.inletPa, h.outletPa = math.Max(h.inlet0, h.vapour), h.outlet0
	ratio := s.PumpHz / c.Pump.RatedSpeedHz
	h.npshR = c.Pump.NPSHRequiredM*ratio*ratio + 0.05
	p.prepareSupply(&h, s, in, mu, dtS)
	p.prepareOutlet(&h, s, in, mu)
	return h
}

// prepareSupply adds up the losses from the source to the pump.
func (p *Plant) prepareSupply(h *hydro, s *State, in *Inputs, mu, dtS float64) {
	c := &p.cfg.Supply
	perFlow2 := 1 / (p.cfg.Pump.RatedFlowM3s * p.cfg.Pump.RatedFlowM3s)
	open := math.Min(math.Max(in.TapOpen, 0), 1)
	h.supply = p.supplyHose.at(s.SupplyM3s, mu)
	h.supply.quad += perFlow2*(c.FilterLossPa/sq(1-share(in.Clog))+c.TapLossPa/sq(math.Max(open, 1e-3))) + p.kink(in.Kink)
	h.leakM2 = math.Max(in.AirLeakM2, 0)
	h.shut = open <= 0
	if c.TankM3 > 0 {
		h.source = densityKgM3 * gravityMS2 * (c.TankBaseM + c.TankDepthM*s.TankM3/c.TankM3)
		if s.TankM3 < 1e-5 {
			// An empty tank leaves the end of the hose in the air.
			h.shut, h.leakM2 = true, h.leakM2+p.hoseArea
		}
	} else {
		p.prepareTap(h, s, in, perFlow2, dtS)
	}
	h.spill = h.leakM2 > 0
	if h.spill {
		h.leak = orifice(h.leakM2)
	}
}

// prepareTap accounts for the pipe that the tap shares with its neighbour. The
// neighbour's flow follows the pressure with a lag of 0.3 s, which stands for
// the inertia of the water in the house; it also keeps the step explicit there.
func (p *Plant) prepareTap(h *hydro, s *State, in *Inputs, perFlow2, dtS float64) {
	c := &p.cfg.Supply
	house := c.HousePipeLossPa * perFlow2
	q2 := s.SecondTapM3s
	junction := math.Max(c.StaticGaugePa-house*sq(s.SupplyM3s+q2), 0)
	target := share(in.SecondTapOpen) * math.Sqrt(junction/(c.NeighbourLossPa*perFlow2))
	s.SecondTapM3s += (target - q2) * math.Min(dtS/0.3, 1)
	q2 = s.SecondTapM3s
	h.source = c.StaticGaugePa - house*sq(q2)
	h.supply.lin += 2 * house * q2
	h.supply.quad += house
}

// kink is the loss where a part of the hose's area is gone. Source: sudden
// widening after a throat (Borda-Carnot), K = (A/a - 1)^2.
func (p *Plant) kink(taken float64) float64 {
	k := sq(1/(1-share(taken)) - 1)
	return k * densityKgM3 / (2 * p.hoseArea * p.hoseArea)
}

// prepareOutlet sets the unloader, the hose and what is at its end.
func (p *Plant) prepareOutlet(h *hydro, s *State, in *Inputs, mu float64) {
	c := &p.cfg.Outlet
	turn := math.Max(in.UnloaderTurn, 0.01)
	h.set = c.UnloaderSetPa * turn
	h.gain = p.cfg.Pump.RatedFlowM3s / ((c.UnloaderFullPa - c.UnloaderSetPa) * turn)
	h.latch(s, c.UnloaderReseat)
	h.bypassLift = c.BypassPa * turn * s.PumpM3s / (s.PumpM3s + 0.05*p.cfg.Pump.RatedFlowM3s)
	area := c.NozzleAreaM2 * math.Max(in.NozzleScale, 0)
	if in.NozzleOff {
		area = p.outArea
	}
	h.outHose = p.outHose.at(s.NozzleM3s, mu)
	h.out = orifice(1)
	if in.TriggerOpen && area > 1e-13 {
		nozzle := orifice(area)
		h.out = line{lin: h.outHose.lin + nozzle.lin, quad: h.outHose.quad + nozzle.quad}
	} else {
		h.out = line{lin: math.Inf(1)}
	}
	h.burst = line{lin: math.Inf(1)}
	if in.BurstM2 > 1e-13 {
		h.burst = orifice(in.BurstM2)
	}
	h.packing = line{lin: math.Inf(1)}
	if in.PackingWear > 0 && h.idealM3s > 0 && !h.bypassing {
		h.packing.lin = p.cfg.Pump.RatedOutletPa / (in.PackingWear * p.cfg.Pump.RatedFlowM3s)
	}
}

// latch is the unloader's trapped-pressure valve: once nearly the whole flow
// goes round, the check valve holds the hose's pressure and the pump runs
// light, until the pressure in the hose falls.
func (h *hydro) latch(s *State, reseat float64) {
	passing := h.gain * (h.outlet0 - h.set)
	switch {
	case s.Bypassing && h.outlet0 < reseat*h.set:
		s.Bypassing = false
	case !s.Bypassing && s.PumpM3s > 0 && passing >= 0.97*s.PumpM3s:
		s.Bypassing = true
	}
	h.bypassing = s.Bypassing
}

// filling is the share of the cylinders that fills before the water boils, at
// an inlet pressure. It is sqrt(head) for little head, 1 for much, and 0.97
// where the head equals what the pump requires, as ISO 9906 defines that; the
// way between is invented: (1 + y^-4)^(-1/8), y = 1.38 head/required.
func (h *hydro) filling(inletPa float64) float64 {
	y := 1.38 * h.npshA(inletPa) / h.npshR
	if y <= 0 {
		return 0
	}
	i := 1 / (y * y)
	return 1 / math.Sqrt(math.Sqrt(math.Sqrt(1+i*i)))
}

// npshA is the head over boiling at the pump inlet, in m; never below 0.
func (h *hydro) npshA(inletPa float64) float64 {
	return math.Max(inletPa-h.vapour, 0) / (densityKgM3 * gravityMS2)
}

// air is what a leak sucks in, at inlet pressure below the air's.
func (h *hydro) air(inletPa float64) float64 {
	if !h.spill || inletPa >= 0 {
		return 0
	}
	return h.leakM2 * math.Sqrt(2*-inletPa/airKgM3)
}

// pump is the water that passes the pump: what its strokes carry, or what the
// inlet pressure pushes through both valves.
func (h *hydro) pump(inletPa, pumpPa float64) float64 {
	strokes := 0.0
	if h.idealM3s > 0 {
		strokes = h.idealM3s*h.filling(inletPa) - h.air(inletPa) - h.slip*math.Max(pumpPa-inletPa, 0)
	}
	return math.Max(strokes, h.pass.flow(inletPa-pumpPa))
}

// spilled is the water that a leak at the inlet loses.
func (h *hydro) spilled(inletPa float64) float64 {
	if !h.spill {
		return 0
	}
	return h.leak.flow(inletPa)
}

// drawn is the flow from the supply.
func (h *hydro) drawn(inletPa float64) float64 {
	if h.shut {
		return 0
	}
	return h.supply.flow(h.source - inletPa)
}

// round is the flow through a loaded unloader.
func (h *hydro) round(outletPa, pumped float64) float64 {
	return math.Min(h.gain*math.Max(outletPa-h.set, 0), pumped)
}

func sq(x float64) float64 { return x * x }

// share keeps a share of an area inside 0 to 0.9995: nothing is ever shut to
// the last bit.
func share(x float64) float64 { return math.Min(math.Max(x, 0), 0.9995) }
