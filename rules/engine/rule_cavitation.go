package engine

import (
	"time"

	"headroom/rules/cavitation"
	"headroom/rules/frame"
	"headroom/rules/suction"
	"headroom/rules/water"
)

// settleTime is how long after a change of state the signs are left alone: a
// trigger that opens swings flow and current by itself.
const settleTime = 2 * time.Second

// cavitationSigns weighs the signs that the pump is short of water. The value
// is the grade: 1 none, 2 possible, 3 likely, 4 severe.
func cavitationSigns(x *view, v *Verdict) {
	x.s.out.Evidence = Evidence{}
	if !x.cfg.Signals[frame.InletPressure].Fitted && !x.cfg.Signals[frame.Flow].Fitted {
		v.cannot(NotFitted, frame.InletPressure)
		return
	}
	if x.t-x.s.machine.Since < settleTime {
		v.cannot(NotNow, frame.NumChannels)
		return
	}
	j := x.e.models.signs.Judge(x.signs())
	if j.Grade == cavitation.CannotJudge {
		v.cannot(x.whyNoSigns())
		return
	}
	v.Value = float64(j.Grade)
	v.Cause = waterCause(j.Cause)
	v.Assumed = j.OnAssumption
	x.s.out.Evidence = evidence(&j)
}

// whyNoSigns tells a machine with too few sensors from one whose sensors have
// no reading, and names the channel. The flow comes first, since it tells more
// than a margin that rests on an assumed NPSH.
func (x *view) whyNoSigns() (Judge, frame.Channel) {
	need := [...]frame.Channel{frame.Flow, frame.InletPressure, frame.WaterTemp}
	for _, c := range need {
		if x.cfg.Signals[c].Fitted && !x.smp[c].OK() {
			return NoReading, c
		}
	}
	for _, c := range need {
		if !x.cfg.Signals[c].Fitted {
			return NotFitted, c
		}
	}
	if x.d.expectedFlow.judge == Watching {
		return NotNow, frame.NumChannels // the mean of the flow is still young
	}
	return NotSet, frame.NumChannels // nothing of the pump to hold the readings against
}

func waterCause(c cavitation.Cause) Cause {
	switch c {
	case cavitation.Starvation:
		return CauseStarvation
	case cavitation.AirIngestion:
		return CauseAir
	case cavitation.HotWater:
		return CauseHotWater
	case cavitation.WornPump:
		return CauseUnloaderOrWear
	case cavitation.Undetermined:
		return CauseUndetermined
	}
	return CauseNone
}

func evidence(j *cavitation.Verdict) (e Evidence) {
	for i := range j.Findings {
		e[i] = Sign{State: j.Findings[i].State, Quantity: j.Findings[i].Quantity, Limit: j.Findings[i].Limit.Speaks}
	}
	return e
}

// signs gathers what is known at this moment.
func (x *view) signs() cavitation.Inputs {
	m, d := &x.s.model, x.d
	in := cavitation.Inputs{
		Delivering:    true,
		MarginM:       reading(d.margin),
		LowMarginM:    reading(d.margin),
		MarginAssumed: d.npshR.assumed,
		CoolMarginM:   reading(d.coolMargin),
		InletGaugePa:  x.reading(frame.InletPressure, 1),
		FlowDeficit:   x.deficit(),
		FlowSwing:     x.rise(frame.Flow, &m.flowNoise, &m.flowSwing),
		CurrentSwing:  x.rise(frame.MotorCurrent, &m.currentNoise, &m.currentSwing),
		CurrentDrop:   x.currentDrop(),
		PulsationRise: x.levelRise(frame.InletPulsation, &m.pulsation),
		VibrationRise: x.levelRise(frame.Vibration, &m.vibration),
		TempHeadroomK: reading(d.tempHeadroom),
	}
	return in
}

func reading(g figure) cavitation.Reading {
	switch g.judge {
	case Watching:
		return cavitation.Known(g.v)
	case NotFitted, NotSet:
		return cavitation.Reading{}
	}
	return cavitation.Unknown()
}

func (x *view) reading(c frame.Channel, scale float64) cavitation.Reading {
	switch {
	case !x.cfg.Signals[c].Fitted:
		return cavitation.Reading{}
	case !x.smp[c].OK():
		return cavitation.Unknown()
	}
	return cavitation.Known(float64(x.smp[c].Value * scale))
}

// answer is a reading that was computed, unknown where it was refused.
func answer(v float64, ok bool) cavitation.Reading {
	if !ok {
		return cavitation.Unknown()
	}
	return cavitation.Known(v)
}

// deficit is the share of the flow that is missing against what the healthy
// pump draws.
func (x *view) deficit() cavitation.Reading {
	want := x.d.expectedFlow
	switch {
	case !x.cfg.Signals[frame.Flow].Fitted || want.judge == NotSet:
		return cavitation.Reading{}
	case !x.s.model.flow.ok || want.judge != Watching || want.v <= 0:
		return cavitation.Unknown()
	}
	return answer(cavitation.Shortfall(want.v, x.s.model.flow.v))
}

// rise is a channel's swing over its own normal.
func (x *view) rise(c frame.Channel, normal *normalLevel, now *swing) cavitation.Reading {
	if !x.cfg.Signals[c].Fitted {
		return cavitation.Reading{}
	}
	v, ok := now.rms()
	if !ok || !normal.known() {
		return cavitation.Unknown()
	}
	return answer(cavitation.Rise(v, normal.v))
}

func (x *view) levelRise(c frame.Channel, normal *normalLevel) cavitation.Reading {
	r := x.reading(c, 1)
	if !r.Known {
		return r
	}
	if !normal.known() {
		return cavitation.Unknown()
	}
	return answer(cavitation.Rise(x.smp[c].Value, normal.v))
}

// currentDrop is the share of the motor's current that is missing against the
// straight line between no load and the plate.
func (x *view) currentDrop() cavitation.Reading {
	p, m := &x.cfg.Plant, &x.s.model
	rated := x.cfg.Machine.RatedOutletPa
	fitted := x.cfg.Signals[frame.MotorCurrent].Fitted && x.cfg.Signals[frame.OutletPressure].Fitted
	switch {
	case !fitted || p.RatedA <= 0 || p.NoLoadA <= 0 || rated <= 0:
		return cavitation.Reading{}
	case !m.current.ok || !m.outletRoot.ok:
		return cavitation.Unknown()
	}
	want := p.NoLoadA + float64((p.RatedA-p.NoLoadA)*(m.outletPa()/rated))
	if want <= 0 {
		return cavitation.Unknown()
	}
	return answer(cavitation.Shortfall(want, m.current.v))
}

// coolK is the cool water that warm water is compared with: 15 °C, as from a
// buried main. Common practice, no source.
const coolK = 288.15

// deriveMargin computes the margin, what it would be with cool water, and how
// much warmer the water may get.
func (e *Engine) deriveMargin(s *State) {
	d := &s.derived
	d.margin, d.coolMargin, d.tempHeadroom = e.marginOf(d), unknown(NotSet, frame.NumChannels), unknown(NotSet, frame.NumChannels)
	if d.margin.judge != Watching {
		d.coolMargin, d.tempHeadroom = d.margin, d.margin
		return
	}
	gained := (d.vapour.v - e.coolVapourPa) / float64(d.density.v*suction.GravityMS2)
	d.coolMargin = known(d.margin.v+gained, d.margin.assumed)
	goneAtPa := suction.VapourPressureAtLimitPa(d.vapour.v, d.margin.v, d.density.v)
	goneAtK, ok := water.SatTempK(goneAtPa)
	if !ok {
		d.tempHeadroom = unknown(OutsideModel, frame.WaterTemp)
		return
	}
	d.tempHeadroom = known(goneAtK-s.out.Samples[frame.WaterTemp].Value, d.margin.assumed)
}

func (e *Engine) marginOf(d *derived) figure {
	switch {
	case d.npshR.judge == NotSet && d.npshA.judge != NotFitted:
		return d.npshR // whatever the sensors read, it can't judge
	case d.npshA.judge != Watching:
		return d.npshA
	case d.npshR.judge != Watching:
		return d.npshR
	case d.pulse.judge != Watching:
		return d.pulse
	}
	return known(suction.MarginM(d.npshA.v, d.pulse.v, d.npshR.v), d.npshA.assumed || d.npshR.assumed || d.pulse.assumed)
}

// ampleMargin reports a margin beyond the rule's first limit: enough that what
// is measured now may be learned as normal.
func (e *Engine) ampleMargin(s *State) bool {
	lim := &e.cfg.Rules[NPSHMargin]
	m := s.derived.margin
	return m.judge == Watching && (!lim.HasWarn || m.v > lim.Warn)
}
