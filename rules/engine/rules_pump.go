package engine

import (
	"math"

	"headroom/rules/frame"
	"headroom/rules/heat"
	"headroom/rules/machine"
	"headroom/rules/trend"
)

// flowShort compares the flow with what the pump must draw at its speed. The
// value is their ratio. With a sound supply what is missing goes back through
// the unloader or leaks inside the pump: that is worth a look and no reason to
// stop, so the second stage stays out and the limit is the first.
func flowShort(x *view, v *Verdict) {
	if !x.need(v, frame.Flow) || !x.d.expectedFlow.ok(v) {
		return
	}
	want := x.d.expectedFlow
	if want.v <= 0 {
		v.cannot(OutsideModel, frame.ShaftSpeed)
		return
	}
	if most, ok := x.e.nozzleFlow(); ok && most < want.v {
		want = known(most, true)
	}
	flow := x.smp[frame.Flow].Value
	v.Value = flow / want.v
	v.use(TermFlow, flow)
	v.useMaybe(TermExpectedFlow, want.v, want.assumed)
	v.useMaybe(TermSpeed, x.d.speed.v, x.d.speed.assumed)
	lim := &x.cfg.Rules[FlowShort]
	x.s.course.follow(x, v.Value, lim.inner())
	if v.Value > lim.inner() {
		return
	}
	if lim.HasWarn && v.Value > leastSoundShare && x.e.supplySound(x.s) {
		v.warnAtMost, v.Limit, v.Cause = true, lim.Warn, CauseUnloaderOrWear
		if p := x.smp[frame.InletPressure]; p.OK() {
			v.use(TermInlet, p.Value)
		}
	}
	if !x.s.course.tells(x) {
		x.holdFlowShort(v)
	}
}

// holdFlowShort is for a flow that is short and on its way: nothing new is said
// of it, and what stands stays as it is.
func (x *view) holdFlowShort(v *Verdict) {
	switch {
	case x.s.alarms[ActAlarm(FlowShort)].Active:
	case x.s.alarms[WarnAlarm(FlowShort)].Active:
		v.warnAtMost = true
	default:
		v.cannot(NotNow, frame.NumChannels)
	}
}

// leastSoundShare is the share of the flow below which a supply that looks
// sound is no reason to wait: a gauge that is stuck or blocked looks sound too,
// and what is left is no work. Common practice, no source.
const leastSoundShare = 0.3

// supplySound reports that the pump's inlet has what it needs: pressure beyond
// the inlet rule's limits and ample margin. Where nobody has said what NPSH the
// pump requires, the inlet rule's limits are the figure there is. Unknown isn't
// sound.
func (e *Engine) supplySound(s *State) bool {
	p, lim := s.out.Samples[frame.InletPressure], &e.cfg.Rules[InletLow]
	switch {
	case !p.OK() || lim.On && p.Value <= lim.inner():
		return false
	case s.derived.margin.judge == NotSet:
		return lim.On
	}
	return e.ampleMargin(s)
}

// nozzleFlow is the most that nozzle and hose of the config let through at the
// rated pressure: a pump that gives more has an unloader that passes the rest
// back, as it is made to. ok is false where one of them isn't known.
func (e *Engine) nozzleFlow() (flowM3s float64, ok bool) {
	p, rated := &e.cfg.Plant, e.cfg.Machine.RatedOutletPa
	if p.NozzleFactor <= 0 || rated <= 0 {
		return 0, false
	}
	k := float64(p.NozzleFactor * p.NozzleFactor)
	return math.Sqrt(rated / (1/k + p.HoseCoefficient)), true
}

// noFlow watches for a pump that turns without water: a dry run or a closed
// supply. A closed outlet is another state of the machine, and other rules.
func noFlow(x *view, v *Verdict) {
	if !x.need(v, frame.Flow) {
		return
	}
	v.Value = x.smp[frame.Flow].Value
	v.use(TermFlow, v.Value)
	if p := x.smp[frame.InletPressure]; p.OK() {
		v.use(TermInlet, p.Value)
	}
}

// bypass counts the time with the outlet closed. The water goes round and
// heats, so the limit is a time, and what is left of it is known exactly. How
// soon the water itself gets too hot is the water's own rule.
func bypass(x *view, v *Verdict) {
	if !x.cfg.canTellBypass() {
		v.cannot(NotFitted, frame.Flow)
		return
	}
	since, bypassed := x.s.machine.Bypassed()
	if !bypassed {
		return
	}
	if x.s.machine.State != machine.Bypassing {
		v.cannot(NoReading, x.outletUnseen())
		return
	}
	v.Value = (x.t - since).Seconds()
	if left := v.Limit - v.Value; left > 0 {
		v.TimeToS, v.EarliestS, v.LatestS, v.Sure = left, left, left, trend.High
	}
	w := x.smp[frame.WaterTemp]
	if !w.OK() {
		return
	}
	v.use(TermWaterTemp, w.Value)
	if a := x.loop().Approach(w.Value, x.cfg.Rules[WaterHot].Act); a.Status == heat.ApproachHeating {
		v.useMaybe(TermHeatRate, a.RateKMin, true)
	}
}

// outletUnseen is the channel for want of which nobody can tell whether the
// outlet is still closed.
func (x *view) outletUnseen() frame.Channel {
	for _, c := range [...]frame.Channel{frame.Trigger, frame.Flow, frame.InletPressure, frame.OutletPressure} {
		if x.cfg.Signals[c].Fitted && !x.smp[c].OK() {
			return c
		}
	}
	return frame.NumChannels
}

// loop is the water that goes round. Its metal is left out and all the power
// counted, so that the time is on the short side.
func (x *view) loop() heat.Loop {
	m := &x.cfg.Machine
	const waterHeatJKgK = 4184 // at 20 °C, IAPWS R7-97
	if m.BypassVolumeM3 <= 0 || m.BypassPowerW <= 0 || !x.cfg.Rules[WaterHot].HasAct {
		return heat.Loop{}
	}
	return heat.Loop{PowerW: m.BypassPowerW, WaterKg: float64(m.BypassVolumeM3 * 998.2), HeatJKgK: waterHeatJKgK}
}

// canTellBypass: a closed outlet is seen by the trigger, or by no flow at a
// fed inlet.
func (c *Config) canTellBypass() bool {
	return c.Signals[frame.Trigger].Fitted || c.Signals[frame.Flow].Fitted && c.Signals[frame.InletPressure].Fitted
}

// outletHigh compares the outlet pressure with the pump's rating.
func outletHigh(x *view, v *Verdict) {
	if !x.need(v, frame.OutletPressure) {
		return
	}
	v.Value = x.smp[frame.OutletPressure].Value
	v.use(TermOutlet, v.Value)
}
