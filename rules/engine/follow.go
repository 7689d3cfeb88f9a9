package engine

import (
	"math"

	"headroom/rules/circuit"
	"headroom/rules/circuit/breaker"
	"headroom/rules/circuit/motor"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// modelState is the memory of the models that run all the time, whether a rule
// looks at them or not: a breaker stays warm after the machine has stopped.
type modelState struct {
	begun    bool
	breaker  breaker.State
	overload motor.OverloadBand
	// lastA is the last current of a motor up to speed, 0 before one was seen.
	lastA float64
	// readA is the current of the last frame that had one.
	readA      float64
	start      motor.StartState
	continuous circuit.ContinuousState
	// startKnown says whether the last current could be judged.
	startKnown bool
	// flow, outlet and current are smoothed over a second or two, for rules
	// that compare them with one another.
	// The outlet pressure's root is smoothed and not the pressure itself: it
	// goes with the flow, so that a change of both fits the nozzle all the way.
	flow, outletRoot, current smoothed
	// swing and noise are the signs' own normal, learned at ample margin.
	flowSwing, currentSwing swing
	pulsation, vibration    normalLevel
	flowNoise, currentNoise normalLevel
}

// smoothed is a first-order mean of good samples.
type smoothed struct {
	v  float64
	ok bool
}

// followS is the memory of the smoothed values, in seconds: longer than a
// stutter of the flow meter, shorter than a person's patience.
const followS = 1.5

func (m *smoothed) add(s frame.Sample, gain float64) {
	switch {
	case !s.OK():
		m.ok = false
	case !m.ok:
		m.v, m.ok = s.Value, true
	default:
		m.v += float64(gain * (s.Value - m.v))
	}
}

// outletPa is the smoothed outlet pressure, Pa gauge; below 0 it is 0.
func (m *modelState) outletPa() float64 { return float64(m.outletRoot.v * m.outletRoot.v) }

// gainOf is how far a first-order filter of time constant tauS moves towards
// its input in dtS: 1 - exp(-dt/tau), with the exponential's series to the
// fourth power, which costs a fraction and never leaves 0 to 1. The error is
// below 1e-6 for steps under a tenth of the time constant and below 2 % for
// any. Source: series of the exponential function.
func gainOf(dtS, tauS float64) float64 {
	if dtS <= 0 {
		return 0
	}
	if tauS <= 0 {
		return 1
	}
	x := dtS / tauS
	// Horner: 1 + x(1 + x/2(1 + x/3(1 + x/4))).
	e := 1 + float64(x/4)
	e = 1 + float64(float64(x/3)*e)
	e = 1 + float64(float64(x/2)*e)
	e = 1 + float64(x*e)
	return 1 - 1/e
}

// follow advances every model by the time since the last frame.
func (e *Engine) follow(s *State) {
	m, smp, dt := &s.model, &s.out.Samples, s.dtS
	if !m.begun {
		m.begun = true
		m.breaker = e.models.breaker.StateUnknown()
		m.overload, _ = e.models.overload.BandUnknown()
	}
	if s.gapS > 0 {
		e.bridge(m, s.gapS)
	}
	e.followCurrent(m, smp, dt)
	if s.machine.Since == s.out.T {
		// What the machine did before says nothing of what it does now.
		m.flow.ok, m.outletRoot.ok, m.current.ok = false, false, false
	}
	gain := gainOf(dt, followS)
	m.flow.add(smp[frame.Flow], gain)
	root := smp[frame.OutletPressure]
	root.Value = math.Sqrt(math.Max(root.Value, 0))
	m.outletRoot.add(root, gain)
	m.current.add(smp[frame.MotorCurrent], gain)
	e.followSigns(s, gain)
}

// bridge advances the models over a gap: nobody saw the current, but the time
// went by, and a motor cools or heats in it.
func (e *Engine) bridge(m *modelState, gapS float64) {
	for left := gapS; left > 0; left -= circuit.MaxStepS {
		e.followUnseen(m, math.Min(left, circuit.MaxStepS))
	}
}

// followUnseen advances the models by a time without a current: their bands
// widen, and a load that had begun goes on counting.
func (e *Engine) followUnseen(m *modelState, dtS float64) {
	if e.models.hasBreaker {
		stepBreaker(&e.models.breaker, m, amps{}, dtS)
		m.continuous, _ = e.models.continuous.Step(m.continuous, -1, dtS)
	}
	if e.models.hasMotor {
		m.overload, _ = e.models.overload.StepBandUnknown(m.overload, m.lastA, dtS)
	}
}

func (e *Engine) followCurrent(m *modelState, smp *[frame.NumChannels]frame.Sample, dt float64) {
	i := e.cfg.ampsOf(smp)
	m.startKnown = false
	if !i.any() {
		if on := smp[frame.Running]; on.OK() && !on.On() {
			i = amps{known: true} // switched off it draws nothing, whatever the sensor does
		}
	}
	if !i.any() {
		e.followUnseen(m, dt)
		return
	}
	if e.models.hasBreaker {
		stepBreaker(&e.models.breaker, m, i, dt)
		m.continuous, _ = e.models.continuous.Step(m.continuous, i.a, dt)
	}
	if e.models.hasStart {
		on := smp[frame.Running].On()
		if !smp[frame.Running].OK() {
			on = i.a >= motor.StoppedShare*e.cfg.Plant.RatedA
		}
		m.start, m.startKnown = e.models.start.Step(m.start, i.a, dt, on)
	}
	if e.models.hasMotor {
		e.followHeat(m, i, dt)
	}
	if i.known && m.start.Phase == motor.PhaseRunning {
		m.lastA = i.a
	}
}

// closeS is the distance of readings up to which an inrush is seen as it is, in
// seconds. Common practice, no source.
const closeS = 0.5

// followHeat heats the motor by what it drew since the last frame. Where a
// start's current comes far from the reading before it, nobody saw when it
// began: the upper edge takes it to have lasted, but no longer than a start
// may, and the lower one to have begun only now.
func (e *Engine) followHeat(m *modelState, i amps, dt float64) {
	o, b, was := &e.models.overload, &m.overload, m.readA
	m.readA = i.a
	if m.start.Phase == motor.PhaseStarting && dt > closeS && i.a >= was {
		begun := math.Min(dt, e.cfg.Plant.Start.StartS)
		*b, _ = o.StepBand(*b, was, was, dt-begun)
		*b, _ = o.StepBand(*b, was, e.mostA(i), begun)
		return
	}
	*b, _ = o.StepBand(*b, i.a, e.mostA(i), dt)
}

// mostA is the most that flows: beyond the sensor's range a rotor may stand.
func (e *Engine) mostA(i amps) float64 {
	if i.least {
		return math.Max(i.a, float64(motor.LockedMultiple*e.cfg.Plant.Overload.RatedA))
	}
	return i.a
}

// stepBreaker widens the breaker's band while the current isn't known. A bound
// is carried on as the least that heats it.
func stepBreaker(b *breaker.Model, m *modelState, i amps, dt float64) {
	if i.any() {
		if next, ok := b.Step(m.breaker, i.a, dt); ok {
			m.breaker = next
			return
		}
	}
	if next, ok := b.StepUnknown(m.breaker, dt); ok {
		m.breaker = next
	}
}

// swing follows a channel's fast part: its RMS around its own smoothed mean.
type swing struct {
	meanSq float64
	n      float64
}

func (w *swing) add(s frame.Sample, mean smoothed, gain float64) {
	if !s.OK() || !mean.ok {
		w.n = 0
		return
	}
	d := s.Value - mean.v
	w.meanSq += float64(gain * (float64(d*d) - w.meanSq))
	w.n++
}

// rms is known once some frames were seen.
func (w *swing) rms() (float64, bool) { return math.Sqrt(w.meanSq), w.n >= 20 }

// normalLevel is what a sign measures while nothing is wrong.
type normalLevel struct {
	v, seenS float64
}

// The own normal of a sign: learnS of ample margin before it counts, and a
// memory long enough that a slow fault isn't learned as normal.
const (
	normalLearnS = 10.0
	normalTauS   = 120.0
)

func (n *normalLevel) learn(v, dtS float64) {
	tau := math.Min(math.Max(n.seenS, 1), normalTauS)
	if n.seenS == 0 {
		n.v = v
	}
	n.v += float64(gainOf(dtS, tau) * (v - n.v))
	n.seenS += dtS
}

func (n *normalLevel) known() bool { return n.seenS >= normalLearnS && n.v > 0 }

// followSigns learns the signs' own normal while the pump works with ample
// margin at its inlet, and only then.
func (e *Engine) followSigns(s *State, gain float64) {
	m, smp := &s.model, &s.out.Samples
	if s.machine.State != machine.Running {
		m.flowSwing, m.currentSwing = swing{}, swing{}
		return
	}
	m.flowSwing.add(smp[frame.Flow], m.flow, gain)
	m.currentSwing.add(smp[frame.MotorCurrent], m.current, gain)
	if !e.ampleMargin(s) || s.out.T-s.machine.Since < settleTime || s.alarms[WarnAlarm(Cavitation)].Active {
		return // what stands as an alarm must not be learned as normal
	}
	learnSample(&m.pulsation, smp[frame.InletPulsation], s.dtS)
	learnSample(&m.vibration, smp[frame.Vibration], s.dtS)
	if v, ok := m.flowSwing.rms(); ok {
		m.flowNoise.learn(v, s.dtS)
	}
	if v, ok := m.currentSwing.rms(); ok {
		m.currentNoise.learn(v, s.dtS)
	}
}

func learnSample(n *normalLevel, s frame.Sample, dtS float64) {
	if s.OK() {
		n.learn(s.Value, dtS)
	}
}
