package engine

import (
	"math"
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

// The cross-checks: what one channel says that others contradict. Each needs
// to hold for contradictFor, so that two sensors with different delays don't
// accuse one another at every start.
type contradiction uint8

const (
	// noCurrentWhileTurning: the shaft turns and water flows, and the motor
	// draws nothing: the current sensor is off its wire.
	noCurrentWhileTurning contradiction = iota
	// noSpeedWhilePumping: flow and outlet pressure without a turning shaft.
	noSpeedWhilePumping
	// inletIgnoresStart: the pump draws its flow and the inlet pressure stands
	// where it stood before the start: the sensor is blocked or shut off.
	inletIgnoresStart

	numContradictions
)

// contradictFor is the time that a contradiction must hold. Common practice,
// no source.
const contradictFor = 3 * time.Second

// accused is the channel that each contradiction speaks against.
var accused = [numContradictions]frame.Channel{
	noCurrentWhileTurning: frame.MotorCurrent,
	noSpeedWhilePumping:   frame.ShaftSpeed,
	inletIgnoresStart:     frame.InletPressure,
}

// trustState is the memory of the cross-checks.
type trustState struct {
	since [numContradictions]time.Duration
	on    [numContradictions]bool
	// restInletPa is the inlet pressure before the pump turned.
	restInletPa float64
	restKnown   bool
}

// distrust marks the samples that other channels contradict. It runs on the
// conditioned samples and before any rule sees them.
func (e *Engine) distrust(s *State, t time.Duration) {
	smp := &s.out.Samples
	for c := range numContradictions {
		if s.trust.holds(c, e.contradicted(c, s), t) && smp[accused[c]].OK() {
			smp[accused[c]].Status = frame.Suspect
		}
	}
}

func (tr *trustState) noteRest(smp *[frame.NumChannels]frame.Sample, st machine.State) {
	if p := smp[frame.InletPressure]; st == machine.Stopped && p.OK() {
		tr.restInletPa, tr.restKnown = p.Value, true
	}
}

// holds reports whether a contradiction has held for long enough.
func (tr *trustState) holds(c contradiction, now bool, t time.Duration) bool {
	if !now {
		tr.on[c] = false
		return false
	}
	if !tr.on[c] {
		tr.on[c], tr.since[c] = true, t
	}
	return t-tr.since[c] >= contradictFor
}

func (e *Engine) contradicted(c contradiction, s *State) bool {
	smp, m := &s.out.Samples, &e.cfg.Machine
	flow := smp[frame.Flow]
	pumps := flow.OK() && m.RatedFlowM3s > 0 && flow.Value > 0.5*m.RatedFlowM3s
	switch c {
	case noCurrentWhileTurning:
		i, n := smp[frame.MotorCurrent], smp[frame.ShaftSpeed]
		turns := n.OK() && m.RatedSpeedHz > 0 && n.Value > 0.5*m.RatedSpeedHz
		return i.OK() && turns && pumps && m.RunCurrentA > 0 && i.Value < 0.2*m.RunCurrentA
	case noSpeedWhilePumping:
		n, p := smp[frame.ShaftSpeed], smp[frame.OutletPressure]
		pressed := p.OK() && m.RatedOutletPa > 0 && p.Value > 0.3*m.RatedOutletPa
		return n.OK() && n.Value == 0 && pumps && pressed
	case inletIgnoresStart:
		return pumps && s.inletStandsStill(smp[frame.InletPressure])
	}
	return false
}

// inletStandsStill reports an inlet pressure that is after the start what it
// was before. Every supply gives way to the pump's flow: tap and hose take some
// kilopascals. Tanks, at hardly any pressure, are left out.
func (s *State) inletStandsStill(p frame.Sample) bool {
	const leastPa, tankPa = 200, 20e3
	if !p.OK() || !s.trust.restKnown || s.machine.State != machine.Running {
		return false
	}
	rest := s.trust.restInletPa
	return math.Abs(p.Value-rest) < leastPa && rest > tankPa
}
