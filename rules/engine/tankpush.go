package engine

import (
	"math"
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

const (
	// tankPa is the most gauge pressure that a tank leaves at the inlet of a pump
	// that stands: two metres of water. Source: hydrostatics; the height is common
	// practice, no source.
	tankPa = 20e3
	// fullShare is the share of the rated flow that counts as all of it. Common
	// practice, no source.
	fullShare = 0.9
)

// tankState follows the inlet of a machine that draws from a tank.
type tankState struct {
	// onTap is whether the inlet stood above the tank's with all the flow: it is
	// fed from a tap. worked is whether the pump had all its flow since the stop.
	onTap, worked bool
	// wrong is whether the inlet was found to rise where it must sink.
	wrong bool
}

// doubtTankInlet finds a gauge that reads up where the pressure goes down, as
// from swapped wires or a factor's sign. A tank pushes with its height and no
// more, so that while the pump turns the inlet can't rise above what it read at
// rest. With the flow gone meanwhile the pump sucks, and the reading would pass
// for a fed inlet and a closed outlet. It is trusted again after a stop.
func (e *Engine) doubtTankInlet(s *State, t time.Duration) {
	d, p := &s.trust.tank, &s.out.Samples[frame.InletPressure]
	if s.machine.State == machine.Stopped {
		*d = tankState{}
	}
	if s.trust.holds(tankPushes, e.tankPushes(s, t), t) {
		d.wrong = true
	}
	if d.wrong && p.OK() {
		p.Status = frame.Suspect
	}
}

func (e *Engine) tankPushes(s *State, t time.Duration) bool {
	smp, m, d := &s.out.Samples, &e.cfg.Machine, &s.trust.tank
	p, q, rest := smp[frame.InletPressure], smp[frame.Flow], s.trust.restInletPa
	if !e.cfg.Signals[frame.TankLevel].Fitted || !s.trust.restKnown || math.Abs(rest) > tankPa {
		return false
	}
	if !p.OK() || !q.OK() || m.RatedFlowM3s <= 0 {
		return false
	}
	high := p.Value > rest+tankPa
	full := q.Value >= fullShare*m.RatedFlowM3s
	d.onTap = s.trust.holds(fedFromTap, full && high, t) || d.onTap && (high || !full)
	if full {
		d.worked = true
		return false
	}
	closed := digital(smp[frame.Trigger]) == machine.No || m.outletHeld(smp) == machine.Yes && q.Value <= m.FlowOnM3s
	return high && d.worked && !d.onTap && !closed && s.machine.State.Turning()
}
