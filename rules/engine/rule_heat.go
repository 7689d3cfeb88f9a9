package engine

import (
	"math"

	"headroom/rules/circuit/motor"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/trend"
)

// heatKnown is the width of the band of motor heat below which it counts as
// known. Common practice, no source.
const heatKnown = 0.05

// motorHeat is the used share of the motor's thermal capacity. Where it isn't
// known, because the motor ran before anybody watched or nobody saw the
// current, it is the most that may be used, with the least beside it.
func motorHeat(x *view, v *Verdict) {
	if !x.e.models.hasMotor {
		v.cannot(NotSet, frame.NumChannels)
		return
	}
	i, ok := x.needAmps(v, 0)
	if !ok {
		return
	}
	b := &x.s.model.overload
	v.Value = b.Most.Theta
	if i.least && v.Value < x.cfg.Rules[MotorHeat].inner() {
		x.need(v, frame.MotorCurrent)
		return
	}
	v.useAmps(i)
	v.use(TermRatedCurrent, x.cfg.Plant.RatedA)
	wide := b.Width() > heatKnown
	if wide {
		v.useMaybe(TermHeatAtLeast, b.Least.Theta, true)
		v.borneOut, v.supposed = x.heatBorneOut(i), true
	}
	x.heatAhead(v, i, wide)
}

// heatBorneOut is how far the readings bear the upper edge of a wide band out:
// to what was seen heating the motor, or to where the current that it draws now
// will bring it. A motor within its plate isn't told to be hot because nobody
// knows its past; one that is seen overloaded is, as soon as it may be. The
// inrush of a start passes, and bears nothing out.
func (x *view) heatBorneOut(i amps) float64 {
	m := &x.s.model
	least, most := m.overload.Least.Theta, m.overload.Most.Theta
	if x.s.machine.State == machine.Starting {
		return least
	}
	a := i.a
	if i.known && m.current.ok {
		a = m.current.v
	}
	level, ok := x.e.models.overload.LevelsOffAt(a)
	if !ok {
		return least
	}
	return math.Max(least, math.Min(most, level))
}

// heatAhead says where the heat goes if the present current stays: to the limit
// in a known time, or to a level below it and never there. The inrush of a
// start doesn't stay, and says nothing.
func (x *view) heatAhead(v *Verdict, i amps, wide bool) {
	if x.s.machine.State == machine.Starting {
		return
	}
	m, b := &x.e.models.overload, &x.s.model.overload
	s, trip := m.TimeToLevel(b.Most, i.a, v.Limit)
	switch {
	case trip == motor.TripNever && !i.least:
		if level, ok := m.LevelsOffAt(i.a); ok {
			v.use(TermHeatLevel, level)
		}
	case trip == motor.TripAhead && s <= trend.Horizon:
		v.TimeToS, v.EarliestS, v.LatestS, v.Sure = s, s, s, trend.High
		if wide {
			late, _ := m.TimeToLevel(b.Least, i.a, v.Limit)
			v.LatestS, v.Sure = math.Max(s, math.Min(late, trend.Horizon)), trend.Low
		}
	}
}
