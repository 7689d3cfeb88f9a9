package engine

import (
	"math"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

// mostShare of the pump's displacement is more than any plunger pump gives; the
// tenth and a half leave room for the tolerances of plate, speed and meter.
// Common practice, no source.
const mostShare = 1.15

// tooMuchFlow reports a flow beyond what the plungers displace, at the plate's
// speed or the measured one, whichever is more: a pick-up that misses pulses
// must not accuse the flow meter. The pump must press, since through a hose
// without a nozzle the supply may push more than the pump takes. Source: a
// displacement pump gives no more than displacement times speed (ISO 4391).
func (e *Engine) tooMuchFlow(s *State) bool {
	m, smp := &e.cfg.Machine, &s.out.Samples
	q, n := smp[frame.Flow], smp[frame.ShaftSpeed]
	works := s.machine.State == machine.Running || s.machine.State == machine.Unknown
	if !works || !q.OK() || m.DisplacementM3 <= 0 || m.RatedSpeedHz <= 0 {
		return false
	}
	speedHz := m.RatedSpeedHz
	if n.OK() {
		speedHz = math.Max(speedHz, n.Value)
	}
	return q.Value > mostShare*m.DisplacementM3*speedHz && e.presses(smp)
}

// presses reports a pump that presses on a nozzle, as far as outlet pressure or
// the motor's current show it.
func (e *Engine) presses(smp *[frame.NumChannels]frame.Sample) bool {
	if smp[frame.OutletPressure].OK() && e.cfg.Machine.RatedOutletPa > 0 {
		return e.cfg.Machine.outletHeld(smp) == machine.Yes
	}
	a := smp[frame.MotorCurrent]
	return a.OK() && e.loaded(a.Value)
}

// loadedShare is the share of the motor's rated load from which the pump
// presses on a nozzle. Common practice, no source.
const loadedShare = 0.5

// loaded reports a current as of half the motor's load or more, by the usual sum
// of a no-load and a load part at right angles. Where the plate doesn't give
// both it isn't known, and false.
func (e *Engine) loaded(currentA float64) bool {
	p := &e.cfg.Plant
	if p.NoLoadA <= 0 || p.RatedA <= p.NoLoadA {
		return false
	}
	idle, full := float64(p.NoLoadA*p.NoLoadA), float64(p.RatedA*p.RatedA)
	return float64(currentA*currentA) >= idle+float64(loadedShare*loadedShare*(full-idle))
}
