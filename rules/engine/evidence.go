package engine

import (
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

// votes are what the three channels that see shaft, motor and switch say of
// "does the pump turn". Each of them can die in the one way that reads like
// rest: a clamp off its wire, a pick-up without its magnet and a broken switch
// wire all say no.
type votes struct{ speed, current, contact machine.Tri }

// noes counts the channels that say no.
func (v votes) noes() (n int) {
	for _, x := range [...]machine.Tri{v.speed, v.current, v.contact} {
		if x == machine.No {
			n++
		}
	}
	return n
}

func (m *Machine) votes(smp *[frame.NumChannels]frame.Sample) votes {
	return votes{
		speed:   vote(smp[frame.ShaftSpeed], m.RunSpeedHz),
		current: vote(smp[frame.MotorCurrent], m.RunCurrentA),
		contact: digital(smp[frame.Running]),
	}
}

// vote leaves out what lies so near the threshold that it may be either.
func vote(s frame.Sample, limit float64) machine.Tri {
	switch {
	case !s.OK() || limit <= 0:
		return machine.CannotTell
	case s.Value > limit:
		return machine.Yes
	case s.Value <= offShare*limit:
		return machine.No
	}
	return machine.CannotTell
}

// The weights of what speaks for a turning pump, against 1 for each channel
// that says no. What can't be without a turning shaft weighs more than one no;
// what only goes with it as a rule weighs as much. Common practice, no source.
const (
	proves   = 2
	suggests = 1
)

// forTurning adds up what speaks for a turning pump. A switch that is on
// proves nothing, since a breaker or the motor's own protector may have opened;
// a current as of a locked rotor doesn't show that anything turns.
func (e *Engine) forTurning(s *State, v votes) (weight int) {
	smp := &s.out.Samples
	switch {
	case e.pumpWorks(s), s.trust.suction.is == drawnAtOnce, v.noes() == 1 && s.flowKept():
		weight += proves
	case s.trust.suction.is == drawnSlowly:
		weight += suggests
	}
	if v.speed == machine.Yes && e.driven(smp) {
		weight += proves
	}
	locked := false
	if a := e.cfg.Plant.RatedA; v.current == machine.Yes {
		locked = a > 0 && smp[frame.MotorCurrent].Value >= 2*a
		switch {
		case a <= 0:
			weight += suggests
		case !locked:
			weight += proves
		}
	}
	if v.contact == machine.Yes && !locked && digital(smp[frame.PowerPresent]) != machine.No {
		weight += suggests
	}
	if e.pumpShakes(s) {
		weight += suggests
	}
	return weight
}

// driven reports a shaft that something drives: one that only runs down soon
// is below this, though a dry pump takes its time over it.
func (e *Engine) driven(smp *[frame.NumChannels]frame.Sample) bool {
	m, n, q := &e.cfg.Machine, smp[frame.ShaftSpeed].Value, smp[frame.Flow]
	if m.RatedSpeedHz <= 0 {
		return false
	}
	pumps := q.OK() && m.RatedFlowM3s > 0 && q.Value > 0.5*m.RatedFlowM3s
	return n > 0.8*m.RatedSpeedHz || pumps && n > 0.5*m.RatedSpeedHz
}

const (
	// suctionPa is a gauge pressure at the inlet that no supply leaves behind
	// where water only runs through a standing pump: something sucks. Common
	// practice, no source.
	suctionPa = -30e3
	// townPa is the most that a supply brings through a standing pump. Common
	// practice, no source: 690 kPa is the usual limit, and some houses have more.
	townPa = 1e6
)

// pumpWorks reports what only a turning pump does: water that flows while the
// outlet is far above any supply, or an inlet that is sucked empty. Outlet
// pressure alone shows nothing: a check valve holds it for hours after a stop.
// Flow alone shows nothing: the supply runs through a standing pump.
func (e *Engine) pumpWorks(s *State) bool {
	smp, m := &s.out.Samples, &e.cfg.Machine
	q, out, in := smp[frame.Flow], smp[frame.OutletPressure], smp[frame.InletPressure]
	if !q.OK() || m.FlowOnM3s <= 0 || q.Value <= m.FlowOnM3s {
		return false
	}
	supplyPa := townPa
	if in.OK() {
		supplyPa = in.Value
	}
	rated := m.RatedOutletPa
	pressed := out.OK() && rated > 0 && out.Value > 0.5*rated && out.Value > supplyPa+float64(0.2*rated)
	return pressed || in.OK() && in.Value < suctionPa
}

// stillSucks reports an inlet that a pump which turned a moment ago keeps
// sucked empty: its supply has failed. After a stop a shut tap leaves the same
// suction behind, so it only counts where nothing else can tell.
func (s *State) stillSucks() bool {
	in := s.out.Samples[frame.InletPressure]
	return s.machine.State.Turning() && in.OK() && in.Value < suctionPa
}

// pumpShakes reports a vibration as of work on a pump that stands still at
// rest. Where it shakes at rest too, by a generator beside it, it shows nothing.
func (e *Engine) pumpShakes(s *State) bool {
	a, normal := s.out.Samples[frame.Vibration], &s.model.vibration
	return a.OK() && normal.known() && a.Value > 0.5*normal.v && s.trust.restShakeKnown && s.trust.restShake < 0.25*normal.v
}

// telltales are the channels whose no can be a lie.
var telltales = [...]struct {
	is contradiction
	of frame.Channel
}{
	{noSpeedWhileTurning, frame.ShaftSpeed}, {noCurrentWhileTurning, frame.MotorCurrent}, {notOnWhileTurning, frame.Running},
}

// weigh holds each no against what speaks for a turning pump. Where that
// outweighs them, those that said no are suspect, and stay so until they show
// that they can say yes: the evidence goes just when a pump runs dry, and then
// a dead channel must not call it stopped. Where it can't be told who is right,
// the state is unknown.
func (e *Engine) weigh(s *State, t time.Duration) {
	tr, smp := &s.trust, &s.out.Samples
	tr.newlyDead = false
	v := e.cfg.Machine.votes(smp)
	for _, x := range telltales {
		if tr.dead[x.is] && v.of(x.of) == machine.Yes {
			tr.dead[x.is] = false
		}
		if tr.dead[x.is] && smp[x.of].OK() {
			smp[x.of].Status = frame.Suspect
		}
	}
	v = e.cfg.Machine.votes(smp)
	tr.suction.follow(v, smp[frame.InletPressure], s.machine.State, t)
	e.followWork(s, v)
	weight, noes := e.forTurning(s, v), v.noes()
	outweighed := weight >= proves && weight > noes
	for _, x := range telltales {
		no := v.of(x.of) == machine.No || x.of == frame.ShaftSpeed && e.deadPickUp(smp[x.of])
		if tr.holds(x.is, no && outweighed, t) {
			smp[x.of].Status, tr.dead[x.is], tr.newlyDead = frame.Suspect, true, true
		}
	}
	open := noes > 0 && !outweighed && weight > 0 && (weight >= noes || e.pumpWorks(s))
	tr.undecided = tr.stays(undecided, open, t)
	if tr.undecided && v.current == machine.No && v.contact == machine.Yes && smp[frame.PowerPresent].On() {
		// Switched on, live, and no current: the clamp or the motor's protector.
		smp[frame.MotorCurrent].Status = frame.Suspect
	}
}

// deadPickUp reports a speed of nothing on a machine whose speed tells nothing
// of the state, but is still what the expected flow is worked out from.
func (e *Engine) deadPickUp(n frame.Sample) bool {
	return e.cfg.Machine.RunSpeedHz <= 0 && n.OK() && n.Value == 0
}

func (v votes) of(c frame.Channel) machine.Tri {
	switch c {
	case frame.ShaftSpeed:
		return v.speed
	case frame.MotorCurrent:
		return v.current
	}
	return v.contact
}
