package engine

import (
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

// offShare is the share of an on-threshold below which a thing counts as off
// again, so that noise at the threshold doesn't make the state flutter.
// Common practice, no source.
const offShare = 0.8

// tellState derives what the machine is doing from the samples.
func (e *Engine) tellState(s *State, t time.Duration) {
	m := &e.cfg.Machine
	smp := &s.out.Samples
	was := s.machine.State
	_, bypassed := s.machine.Bypassed()
	in := machine.Inputs{
		Turning:     e.turning(s),
		Flowing:     above(smp[frame.Flow], m.FlowOnM3s, !bypassed && (was == machine.Running || was == machine.WaterOn)),
		InletFed:    e.inletFed(s, t, bypassed),
		TriggerOpen: digital(smp[frame.Trigger]),
		OutletHeld:  m.outletHeld(smp),
	}
	now := machine.Step(&s.machine, &e.cfg.States, in, t)
	if now == machine.Starting && was != machine.Starting {
		s.totals.Starts++
	}
	s.out.Machine, s.out.MachineSince = now, s.machine.Since
}

// turning asks the channels in the order of how directly they see the shaft:
// its speed, the motor's current, the outlet pressure, the switch, and at last
// whether the pump does its work. It runs behind weigh, so what is asked here
// is not contradicted, or not yet for long enough.
func (e *Engine) turning(s *State) machine.Tri {
	m, smp, was := &e.cfg.Machine, &s.out.Samples, s.machine.State.Turning()
	if s.trust.undecided || s.trust.newlyDead && !was {
		// Also for one step when a dead channel was found: the machine that now
		// turns has turned before, and makes no start.
		return machine.CannotTell
	}
	for _, ask := range [...]struct {
		sample frame.Sample
		limit  float64
	}{
		{smp[frame.ShaftSpeed], m.RunSpeedHz},
		{atLeastOf(smp), m.RunCurrentA},
		{smp[frame.OutletPressure], m.RunOutletPa},
	} {
		if ask.limit > 0 && ask.sample.OK() {
			return above(ask.sample, ask.limit, s.machine.Turned())
		}
	}
	if on := digital(smp[frame.Running]); on != machine.CannotTell {
		return on
	}
	if e.pumpWorks(s) || s.stillSucks() || s.trust.suction.is == drawnAtOnce || s.flowKept() {
		return machine.Yes
	}
	return machine.CannotTell
}

// outletHeld asks for an outlet pressure above what the supply alone brings
// through the pump: by a tenth of the rating, since an unloader may be turned
// down far. Common practice, no source.
func (m *Machine) outletHeld(smp *[frame.NumChannels]frame.Sample) machine.Tri {
	in, out := smp[frame.InletPressure], smp[frame.OutletPressure]
	switch {
	case !in.OK() || !out.OK() || m.RatedOutletPa <= 0:
		return machine.CannotTell
	case out.Value > in.Value+float64(0.1*m.RatedOutletPa):
		return machine.Yes
	}
	return machine.No
}

// above compares a sample with an on-threshold; was tells whether it counted
// as on before, which lowers the threshold.
func above(s frame.Sample, limit float64, was bool) machine.Tri {
	if !s.OK() || limit <= 0 {
		return machine.CannotTell
	}
	if was {
		limit *= offShare
	}
	return yesIf(s.Value > limit)
}

func digital(s frame.Sample) machine.Tri {
	if !s.OK() {
		return machine.CannotTell
	}
	return yesIf(s.On())
}

func yesIf(b bool) machine.Tri {
	if b {
		return machine.Yes
	}
	return machine.No
}
