package rig

import (
	"math"
	"time"

	"headroom/daemon/bench"
	"headroom/sensors/plant"
)

// Bench is the plant with a person at its valves.
type Bench struct {
	truth Truth
	plant *plant.Plant
	state plant.State
	in    plant.Inputs
	pump  bench.Pump
	// now since the start; set is when the step was begun and touched when the
	// person last turned something.
	now, set, touched time.Duration
	step              bench.Step
	inlet             int
	target            float64
	settled           bool
}

// Tick is the time from frame to frame.
const Tick = 100 * time.Millisecond

// plantStep is the plant's own step.
const plantStep = 20 * time.Millisecond

// NewBench makes a bench for a pump of that plate. The plate's displacement is
// the plant's.
func NewBench(t Truth, p bench.Pump) (*Bench, error) {
	pl, err := plant.New(t.machine())
	if err != nil {
		return nil, err
	}
	b := &Bench{truth: t, plant: pl, pump: p, in: plant.Idle()}
	b.in.SupplyTempK, b.in.AmbientK = t.WaterK, t.AirK
	b.in.ValveWear, b.in.PackingWear, b.in.BeltSlip = max(t.ValveWear, 0), t.PackingWear, t.BeltSlip
	b.state = pl.Start(&b.in)
	return b, nil
}

// inletShares are the positions of the inlet valve, as heads over boiling in
// shares of what the pump requires: a person closes it a little each time.
var inletShares = []float64{1.5, 1.2, 1.08, 0.98, 0.9, 0.83, 0.77, 0.72, 0.67, 0.63, 0.59}

// Begin sets the bench for a step. For the inlet each call is the next position
// of the valve.
func (b *Bench) Begin(s bench.Step) {
	if s.Kind == bench.Leak && b.state.OutletGaugePa < 0.5*b.pump.PressurePa {
		// After a break the outlet must be brought to pressure first.
		b.Begin(bench.Step{Kind: bench.Relief})
		for range 200 {
			b.Advance()
		}
	}
	if s.Kind != bench.Inlet {
		b.inlet = 0
	}
	b.step, b.set, b.touched, b.settled, b.target = s, b.now, b.now, false, s.TargetPa
	in := &b.in
	was := in.TapOpen
	in.SwitchOn, in.TapOpen, in.TriggerOpen, in.NozzleOff, in.BurstM2 = true, 1, true, false, 0
	in.UnloaderTurn = 1.6
	if in.NozzleScale == 0 {
		in.NozzleScale = 1
	}
	switch s.Kind {
	case bench.Rest:
		// A standing pump lets the tap's pressure through; it must be shut.
		in.SwitchOn, in.TapOpen = false, 0
	case bench.NoLoad:
		in.NozzleOff = true
	case bench.Inlet:
		b.target = 0.75 * b.pump.PressurePa
		if b.inlet > 0 {
			b.throttle(was, inletShares[min(b.inlet-1, len(inletShares)-1)])
		}
		b.inlet++
	case bench.Own, bench.Unloader:
		in.NozzleScale, in.UnloaderTurn = b.truth.NozzleScale, b.truth.UnloaderTurn
	case bench.Relief, bench.Bypass:
		in.TriggerOpen, in.UnloaderTurn = false, b.truth.UnloaderTurn
	case bench.Leak:
		in.SwitchOn, in.TriggerOpen, in.UnloaderTurn, in.BurstM2 = false, false, b.truth.UnloaderTurn, b.truth.LeakM2
	}
	if b.target > 0 {
		in.NozzleScale = min(max(in.NozzleScale, 0.5), 2)
	}
}

// inletTurn is how much of its opening the tap keeps at most from one position to
// the next: the session says how far it wants the flow or the pressure to move,
// and a person gives somewhat more.
const inletTurn = 0.985

// throttle closes the tap, from where it was, so that about that share of the
// required head is left, and noticeably in any case.
func (b *Bench) throttle(was, share float64) {
	c := b.plant.Config()
	want := share*b.state.NPSHRequiredM*9789 + 2000 - c.AirAbsPa
	q := b.state.SupplyM3s / c.Pump.RatedFlowM3s
	others := c.Supply.StaticGaugePa - b.state.InletGaugePa - c.Supply.TapLossPa*q*q/(was*was)
	need := max(c.Supply.StaticGaugePa-others-want, 1e3)
	b.in.TapOpen = min(was*inletTurn, math.Sqrt(c.Supply.TapLossPa*q*q/need))
}

// Advance lets one tick pass; the person looks every few seconds and corrects.
func (b *Bench) Advance() {
	for range int(Tick / plantStep) {
		b.plant.Step(&b.state, &b.in, plantStep.Seconds())
	}
	b.now += Tick
	if b.now-b.touched < 2500*time.Millisecond {
		return
	}
	if b.target <= 0 || b.step.Kind == bench.Unloader {
		b.settled = b.now-b.set > 6*time.Second
		return
	}
	off := b.state.OutletGaugePa / b.target
	if math.Abs(off-1) < 0.006 {
		b.settled = b.now-b.touched > 5*time.Second
		return
	}
	b.touched = b.now
	b.in.NozzleScale = min(max(b.in.NozzleScale*math.Sqrt(max(off, 0.1)), 0.3), 6)
}

// ensureOwn sets the bench to the own nozzle where it isn't, as after a break:
// what is measured by hand is measured there.
func (b *Bench) ensureOwn() {
	if b.step.Kind == bench.Own {
		return
	}
	b.Begin(bench.Step{Kind: bench.Own})
	for range 200 {
		b.Advance()
	}
}

// Settled reports whether the person is content with the step.
func (b *Bench) Settled() bool { return b.settled }

// Now is how long the bench has run.
func (b *Bench) Now() time.Duration { return b.now }

// PowerFactor is the motor's true one at this moment.
func (b *Bench) PowerFactor() float64 {
	s, c := &b.state, b.plant.Config().Circuit
	lost := s.CurrentA * s.CurrentA * (c.BranchOhm + c.CordOhm)
	return (s.ElectricW - lost) / (s.MotorV * s.CurrentA)
}

// Told is the true value of what a person measures by hand.
func (b *Bench) Told(k bench.Kind) float64 {
	switch k {
	case bench.Bucket:
		return b.state.NozzleM3s
	case bench.Cup:
		return b.state.PackingM3s
	case bench.Reference:
		return b.state.OutletGaugePa
	}
	return 0
}

// NPSHRequiredM is the head at which the capacity has truly fallen by 3 % from
// its best, from the plant's own law of filling: (1+y^-4)^(-1/8) with
// y = 1.38 head/required, less the slip, which doesn't fall with it. It must be
// asked for in the state of the first inlet point.
func (b *Bench) NPSHRequiredM() float64 {
	c := b.plant.Config()
	ideal := c.Pump.DisplacementM3 * b.state.PumpHz
	slip := ideal*b.state.Filling - b.state.PumpM3s
	filling := (0.97*b.state.PumpM3s + slip) / ideal
	y := math.Pow(math.Pow(filling, -8)-1, -0.25)
	return y * b.state.NPSHRequiredM / 1.38
}
