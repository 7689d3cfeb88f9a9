package engine

import (
	"math"

	"headroom/rules/circuit"
	"headroom/rules/circuit/breaker"
	"headroom/rules/circuit/cord"
	"headroom/rules/circuit/motor"
	"headroom/rules/circuit/unloader"
	"headroom/rules/frame"
	"headroom/rules/trend"
)

// circuitLoad compares the motor's current with the circuit it hangs on. Near
// the limit it says how far to turn the unloader down.
func circuitLoad(x *view, v *Verdict) {
	i, ok := x.needAmps(v, x.cfg.Rules[CircuitLoad].inner())
	if !ok {
		return
	}
	v.Value = i.a
	v.useAmps(i)
	if a := x.cfg.Machine.CircuitA; a > 0 {
		v.use(TermCircuitRating, a)
	}
	if cut, ok := x.turnDown(); ok {
		v.use(TermTurnDown, cut)
	}
	if x.e.models.hasBreaker && x.s.model.continuous.AboveS > 0 {
		v.use(TermContinuousIn, circuit.ContinuousS-x.s.model.continuous.AboveS)
	}
}

// turnDown is the cut in pressure that brings the current to the first limit.
func (x *view) turnDown() (cutPa float64, ok bool) {
	p, lim, m := &x.cfg.Plant, &x.cfg.Rules[CircuitLoad], &x.s.model
	if !lim.HasWarn || p.NoLoadA <= 0 || !m.current.ok || !m.outletRoot.ok || m.current.v <= lim.Warn {
		return 0, false
	}
	flow := m.flow.v
	if !m.flow.ok {
		flow = x.cfg.Machine.RatedFlowM3s
	}
	a, reason, ok := unloader.Advise(unloader.Input{
		Method: unloader.ByLine, NowA: m.current.v, LimitA: lim.Warn, NoLoadA: p.NoLoadA,
		PumpPa: m.outletPa(), NozzlePa: m.outletPa(), NozzleM3s: flow,
	})
	return a.CutPa, ok && reason == unloader.ReasonOK
}

// breakerCapS stands for "no trip in sight".
const breakerCapS = trend.Horizon

// breakerTime is how soon the breaker trips at this current, from what it has
// carried so far: the time of the quickest breaker that the standard allows.
// At currents where the standard lets some breakers trip and others hold for
// ever it says that, without a time to be judged; the circuit's load is judged
// by its own rule there.
func breakerTime(x *view, v *Verdict) {
	if !x.e.models.hasBreaker {
		v.cannot(NotSet, frame.NumChannels)
		return
	}
	// At or below the rating it holds, so a bound there says nothing.
	i, ok := x.needAmps(v, x.e.models.breaker.HoldA())
	if !ok {
		return
	}
	if i.least && i.a <= x.e.models.breaker.HoldA() {
		x.need(v, frame.MotorCurrent)
		return
	}
	w := x.e.models.breaker.TimeToTrip(x.s.model.breaker, i.a)
	if w.Kind == breaker.KindUnknown {
		v.cannot(OutsideModel, frame.MotorCurrent)
		return
	}
	switch w.Kind {
	case breaker.MayTripNow:
		v.cannot(MayTripNow, frame.NumChannels)
	case breaker.MayTripLater:
		v.cannot(MayTripLater, frame.NumChannels)
		v.use(TermEarliestTrip, w.EarliestS)
	default:
		v.Value = breakerCapS
	}
	v.useAmps(i)
	v.use(TermCircuitRating, x.cfg.Plant.Breaker.RatingA)
	switch w.Kind {
	case breaker.TripsBetween, breaker.TripsWithin, breaker.TripsAtOnce, breaker.Overdue:
		tripBand(v, w)
	}
}

// tripBand says "trips between": the time left is the earliest.
func tripBand(v *Verdict, w breaker.Window) {
	v.Value = math.Min(w.EarliestS, breakerCapS)
	v.TimeToS, v.EarliestS = v.Value, v.Value
	v.LatestS, v.Sure = math.Max(math.Min(w.LatestS, breakerCapS), v.Value), trend.High
	v.use(TermLatestTrip, v.LatestS)
}

// motorVoltage is the voltage at the machine's end of the cord, measured or
// computed from the circuit's and the cord's loss.
func motorVoltage(x *view, v *Verdict) {
	p := &x.cfg.Plant
	if p.RatedV <= 0 {
		v.cannot(NotSet, frame.NumChannels)
		return
	}
	i := x.smp[frame.MotorCurrent]
	if !x.cfg.Signals[frame.SupplyVoltage].Fitted && x.cfg.Signals[frame.MotorCurrent].Fitted && p.CircuitV > 0 && p.CordOhm > 0 {
		if !x.need(v, frame.MotorCurrent) {
			return
		}
		d := cord.DropAt(p.CordOhm, p.CircuitV, i.Value)
		if d.Status != cord.StatusOK {
			v.cannot(OutsideModel, frame.MotorCurrent)
			return
		}
		v.Value = d.MotorV
		v.useMaybe(TermVoltage, d.MotorV, true)
		v.use(TermCurrent, i.Value)
		return
	}
	if !x.need(v, frame.SupplyVoltage) {
		return
	}
	v.Value = x.smp[frame.SupplyVoltage].Value
	v.use(TermVoltage, v.Value)
	if i.OK() && p.CordOhm > 0 {
		v.use(TermCordDrop, p.CordOhm*i.Value)
	}
}

// startJam is how long the motor has drawn a start's current: a start that is
// over in time is none of its business, one that isn't, or a jam, is.
func startJam(x *view, v *Verdict) {
	if !x.e.models.hasStart {
		v.cannot(NotSet, frame.NumChannels)
		return
	}
	i, ok := x.needAmps(v, 0)
	if !ok {
		return
	}
	st := &x.s.model.start
	if i.least && st.Phase == motor.PhaseRunning && i.a < x.jamA() {
		x.need(v, frame.MotorCurrent) // above the sensor's range and perhaps above a jam
		return
	}
	if !x.s.model.startKnown {
		v.cannot(OutsideModel, frame.MotorCurrent)
		return
	}
	switch st.Phase {
	case motor.PhaseStopped, motor.PhaseNoCurrent, motor.PhaseRunning:
		if st.AboveS == 0 && !x.s.timed(StartJam) {
			// Room for a start is no room while there is none; a jam is told
			// when it comes.
			v.cannot(NotNow, frame.NumChannels)
			return
		}
	case motor.PhaseStarting, motor.PhaseLongStart, motor.PhaseLockedRotor:
		v.Value = st.ElapsedS
	case motor.PhaseJam:
		v.Value = v.Limit + st.AboveS
		v.Cause = CauseJam
	}
	if st.Phase == motor.PhaseLockedRotor {
		v.Cause = CauseLockedRotor
	}
	v.useAmps(i)
	v.use(TermRatedCurrent, x.cfg.Plant.RatedA)
}

// jamA is the current from which a running motor counts as held fast.
func (x *view) jamA() float64 {
	return float64(x.cfg.Plant.Start.JamMultiple * x.cfg.Plant.Start.RatedA)
}

// powerLost: the switch is on and nothing comes, so a breaker, a GFCI, the
// motor's own protector or a plug has opened. Only a person may set it right.
func powerLost(x *view, v *Verdict) {
	if !x.need(v, frame.Running) {
		return
	}
	on := x.smp[frame.Running].On()
	switch p, i := x.smp[frame.PowerPresent], x.cfg.ampsOf(x.smp); {
	case p.OK():
		v.Value = boolean(on && !p.On())
	case (i.known || i.least && i.a >= motor.StoppedShare*x.cfg.Plant.RatedA) && x.cfg.Plant.RatedA > 0:
		v.Value = boolean(on && i.a < motor.StoppedShare*x.cfg.Plant.RatedA)
	case x.cfg.Signals[frame.PowerPresent].Fitted:
		v.cannot(NoReading, frame.PowerPresent)
	case x.cfg.Plant.RatedA <= 0 && x.cfg.Signals[frame.MotorCurrent].Fitted:
		v.cannot(NotSet, frame.NumChannels) // nothing says below which current the motor stands
	case x.cfg.Signals[frame.MotorCurrent].Fitted:
		v.cannot(NoReading, frame.MotorCurrent)
	default:
		v.cannot(NotFitted, frame.PowerPresent)
	}
}

func boolean(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
