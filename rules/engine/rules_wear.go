package engine

import (
	"math"

	"headroom/rules/frame"
	"headroom/rules/heat"
	"headroom/rules/nozzle"
	"headroom/rules/trend"
	"headroom/rules/wear"
)

// discharge holds flow and outlet pressure against each other: a nozzle that
// has worn or clogged, a hose that has let go. The value is how far the
// nozzle's own factor lies from the expected one.
func discharge(x *view, v *Verdict) {
	p := &x.cfg.Plant
	if p.NozzleFactor <= 0 {
		v.cannot(NotSet, frame.NumChannels)
		return
	}
	if !x.need(v, frame.Flow) || !x.need(v, frame.OutletPressure) {
		return
	}
	if !x.s.machine.Settled(x.t, settleTime) {
		v.cannot(NotNow, frame.NumChannels)
		return
	}
	m := &x.s.model
	lim := dischargeLimits(&x.cfg.Rules[Discharge])
	d := nozzle.Diagnose(
		nozzle.Reading{FlowM3s: m.flow.v, OutletGaugePa: m.outletPa()},
		nozzle.Expected{FactorM3sRootPa: p.NozzleFactor, HoseCoefficient: p.HoseCoefficient, PumpM3s: x.pumpFlow()},
		nozzle.Facts{Trigger: x.triggerFact(), Meter: nozzle.MeterJet}, lim)
	switch {
	case d.Finding == nozzle.NotSpraying:
		v.cannot(NotNow, frame.NumChannels)
		return
	case !d.RatioKnown && d.Finding == nozzle.Burst:
		v.Value, v.Cause = lostResidual, CauseHoseBurst
		v.use(TermFlow, m.flow.v)
		v.use(TermOutlet, m.outletPa())
		v.use(TermExpectedOutlet, d.ExpectedPa)
		return
	case !d.RatioKnown:
		v.cannot(OutsideModel, frame.OutletPressure)
		return
	}
	v.Value = math.Abs(d.Residual)
	v.Cause = dischargeCause(d.Finding)
	v.use(TermFlow, m.flow.v)
	v.use(TermOutlet, m.outletPa())
	v.use(TermExpectedOutlet, d.ExpectedPa)
}

// dischargeLimits are the diagnosis' thresholds with the rule's own first limit.
func dischargeLimits(l *Limit) nozzle.Limits {
	lim := nozzle.DefaultLimits()
	if l.HasWarn {
		lim.Worn, lim.Blocked = l.Warn, l.Warn
	}
	return lim
}

// lostResidual stands for a nozzle without any pressure before it: its factor
// has no bound, and ten times the expected one is beyond every limit.
const lostResidual = 10

func (x *view) pumpFlow() float64 {
	if x.d.expectedFlow.judge == Watching {
		return x.d.expectedFlow.v
	}
	return x.cfg.Machine.RatedFlowM3s
}

func (x *view) triggerFact() nozzle.Trigger {
	switch t := x.smp[frame.Trigger]; {
	case !t.OK():
		return nozzle.TriggerUnknown
	case t.On():
		return nozzle.TriggerOpen
	}
	return nozzle.TriggerClosed
}

func dischargeCause(f nozzle.Finding) Cause {
	switch f {
	case nozzle.Worn:
		return CauseNozzleWorn
	case nozzle.Blocked:
		return CauseNozzleBlocked
	case nozzle.Burst:
		return CauseHoseBurst
	case nozzle.Dumping:
		return CauseDumping
	case nozzle.AsExpected:
		return CauseNone
	}
	return CauseUndetermined
}

// frostCapS stands for "no frost in sight".
const frostCapS = 86_400

// frost is how long the water standing in the pump takes to freeze, or the
// limit of the class of danger that the temperatures alone are in, whichever is
// worse: colder air must never make it look better. Without the air there is no
// time, only the class of the water, and water that is in none may freeze all
// the same: then it can't be judged.
func frost(x *view, v *Verdict) {
	w, a := x.smp[frame.WaterTemp], x.smp[frame.AmbientTemp]
	if !w.OK() && !a.OK() {
		if !x.cfg.Signals[frame.AmbientTemp].Fitted {
			x.need(v, frame.WaterTemp)
			return
		}
		x.need(v, frame.AmbientTemp)
		return
	}
	st := heat.FrostState{WaterK: w.Value, WaterKnown: w.OK(), AmbientK: a.Value, AmbientKnown: a.OK()}
	f := x.e.models.frost.Classify(st)
	switch {
	case f.Status == heat.FrostUnknown:
		v.cannot(OutsideModel, frame.WaterTemp)
		return
	case f.Status == heat.FrostNone && !a.OK():
		x.need(v, frame.AmbientTemp)
		return
	}
	v.Value = frostCapS
	if f.TimeKnown && f.Seconds < frostCapS {
		v.Value = f.Seconds
		v.TimeToS, v.EarliestS, v.LatestS, v.Sure = v.Value, v.Value, v.Value, trend.Low
	}
	if f.TimeKnown { // the time holds what the air does
		st.AmbientKnown = false
		f.Status = x.e.models.frost.Classify(st).Status
	}
	if s := x.frostClassS(f.Status); s < v.Value {
		v.Value, v.Assumed = s, true
		v.TimeToS, v.EarliestS, v.LatestS, v.Sure = 0, 0, 0, trend.None
	}
	if w.OK() {
		v.use(TermWaterTemp, w.Value)
	}
	if a.OK() {
		v.use(TermAirTemp, a.Value)
	}
}

// frostClassS is the value that stands for a class of danger: the limit that
// such a danger must reach.
func (x *view) frostClassS(s heat.FrostStatus) float64 {
	lim := &x.cfg.Rules[Frost]
	switch {
	case s == heat.FrostFreezing:
		return 0
	case s == heat.FrostRisk && lim.HasAct:
		return lim.Act
	case s >= heat.FrostWatch && lim.HasWarn:
		return lim.Warn
	}
	return frostCapS
}

// shutShare is the share of its opening pressure below which a sound unloader
// counts as shut. Common practice, no source.
const shutShare = 0.95

// unloaderShut reports an outlet pressure at which the unloader, as the config
// says it is set, passes nothing back.
func (x *view) unloaderShut() bool {
	opens := x.cfg.Machine.UnloaderOpensPa
	return opens > 0 && x.s.model.outletRoot.ok && x.s.model.outletPa() < shutShare*opens
}

// wearOf compares the volumetric efficiency with the machine's own baseline at
// the same speed, pressure and temperature. Starvation looks like wear, so it
// judges only with ample margin at the inlet. So does an unloader that passes
// water back: that can only make the pump look worse than it is, so a pump that
// looks well is well, and one that doesn't is judged only where the unloader is
// known to be shut.
func wearOf(x *view, v *Verdict) {
	b := &x.cfg.Plant.Baseline
	if b.N == 0 || x.cfg.Machine.DisplacementM3 <= 0 {
		v.cannot(NotSet, frame.NumChannels)
		return
	}
	for _, c := range [...]frame.Channel{frame.Flow, frame.OutletPressure, frame.WaterTemp} {
		if !x.need(v, c) {
			return
		}
	}
	if x.d.speed.judge != Watching {
		x.d.speed.ok(v)
		return
	}
	m := &x.s.model
	eff, ok := wear.VolumetricEfficiency(m.flow.v, x.cfg.Machine.DisplacementM3, x.d.speed.v)
	if !ok {
		v.cannot(OutsideModel, frame.Flow)
		return
	}
	if !x.e.ampleMargin(x.s) {
		v.cannot(NotNow, frame.NumChannels)
		return
	}
	c := b.Compare(wear.Point{SpeedHz: x.d.speed.v, DropPa: m.outletPa(), TempK: x.smp[frame.WaterTemp].Value, Efficiency: eff})
	short := c.Status == wear.Compared && 1-c.Loss <= x.cfg.Rules[Wear].inner()
	// Turned down, the machine works where no baseline was taken.
	away := c.Status != wear.Compared && m.flow.v < float64(shutShare*x.pumpFlow())
	switch {
	case (short || away) && !x.unloaderShut():
		v.cannot(MayBypass, frame.NumChannels)
		return
	case c.Status != wear.Compared:
		v.cannot(OutsideModel, frame.OutletPressure)
		return
	}
	v.Value = 1 - c.Loss
	v.use(TermEfficiency, eff)
	v.use(TermBaseline, c.Expected)
	v.useMaybe(TermSpeed, x.d.speed.v, x.d.speed.assumed)
}
