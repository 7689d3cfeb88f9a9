package engine

import (
	"math"
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

// The cross-checks: what one channel says that others contradict. Each needs
// to hold for a while, so that two sensors with different delays don't accuse
// one another at every start and stop.
type contradiction uint8

const (
	// noCurrentWhileTurning: the pump turns and the motor draws nothing: the
	// current sensor is off its wire.
	noCurrentWhileTurning contradiction = iota
	// noSpeedWhileTurning: the pump works without a turning shaft.
	noSpeedWhileTurning
	// notOnWhileTurning: the pump turns and the switch says off.
	notOnWhileTurning
	// undecided: some say that the pump turns and some that it doesn't, and it
	// can't be told who is right.
	undecided
	// inletIgnoresStart: the pump draws its flow and the inlet pressure stands
	// where it stood before the start: the sensor is blocked or shut off.
	inletIgnoresStart
	// speedHangs: current and switch say that the pump stands, and the speed
	// stays what it was to the last bit.
	speedHangs
	// moreThanDisplaced: the pump presses, and the flow is more than it can give.
	moreThanDisplaced
	// tankPushes: the flow is gone, and the inlet of a machine on a tank rises.
	tankPushes
	// fedFromTap: no contradiction, but one of a tank: the inlet stands above what
	// a tank gives, with all the flow there.
	fedFromTap

	numContradictions
)

// contradictFor is the time that a contradiction must hold. Of the pump's
// turning it is longer than a shaft runs down, a hose loses its pressure and a
// flow meter with its filter counts what no longer flows. Common practice, no
// source.
var contradictFor = [numContradictions]time.Duration{
	noCurrentWhileTurning: 5 * time.Second, noSpeedWhileTurning: 5 * time.Second, notOnWhileTurning: 5 * time.Second,
	undecided: 5 * time.Second, inletIgnoresStart: 3 * time.Second, speedHangs: 5 * time.Second,
	moreThanDisplaced: 10 * time.Second, tankPushes: 2 * time.Second, fedFromTap: 5 * time.Second,
}

// trustState is the memory of the cross-checks.
type trustState struct {
	since [numContradictions]time.Duration
	on    [numContradictions]bool
	// restInletPa is the inlet pressure before the pump turned, restShake the
	// vibration.
	restInletPa, restShake    float64
	restKnown, restShakeKnown bool
	// dead are the channels that said no of a turning pump and have not said
	// yes since, newlyDead whether one was found in this step.
	dead      [numContradictions]bool
	newlyDead bool
	// undecided is whether it can't be told if the pump turns.
	undecided bool
	// suction follows the inlet of a machine that stands, work the flow of one
	// that works, speed the shaft's and tank the inlet of one on a tank.
	suction suctionState
	work    workState
	speed   speedState
	tank    tankState
	// goodAt is when a channel last had a good sample, blink whether one that
	// tells has none for a moment.
	goodAt [frame.NumChannels]time.Duration
	seen   [frame.NumChannels]bool
	blink  bool
}

// distrust marks the samples that other channels contradict. It runs on the
// conditioned samples and before any rule sees them.
func (e *Engine) distrust(s *State, t time.Duration) {
	smp := &s.out.Samples
	s.trust.noteBlink(smp, e.cfg.States.Hold, t)
	if p := &smp[frame.InletPressure]; s.trust.holds(inletIgnoresStart, e.inletIgnoresStart(s), t) && p.OK() {
		p.Status = frame.Suspect
	}
	e.doubtTankInlet(s, t)
	if q := &smp[frame.Flow]; s.trust.stays(moreThanDisplaced, e.tooMuchFlow(s), t) && q.OK() {
		q.Status = frame.Suspect
	}
	e.doubtSpeed(s, t)
	e.weigh(s, t)
}

func (tr *trustState) noteRest(smp *[frame.NumChannels]frame.Sample, st machine.State) {
	if st != machine.Stopped || tr.on[noCurrentWhileTurning] || tr.on[noSpeedWhileTurning] || tr.on[notOnWhileTurning] || tr.on[undecided] {
		return // or it may be no rest at all
	}
	if p := smp[frame.InletPressure]; p.OK() {
		tr.restInletPa, tr.restKnown = p.Value, true
	}
	if a := smp[frame.Vibration]; a.OK() {
		tr.restShake, tr.restShakeKnown = a.Value, true
	}
}

// forgetTimes is for a gap in the data: a contradiction must be seen for its
// time, not assumed.
func (tr *trustState) forgetTimes() {
	tr.on = [numContradictions]bool{}
}

// witnesses are the channels that a contradiction is made of.
var witnesses = [...]frame.Channel{
	frame.InletPressure, frame.Flow, frame.MotorCurrent, frame.OutletPressure, frame.ShaftSpeed, frame.Vibration, frame.Running,
}

// noteBlink notes whether a witness has no good sample now and had one no
// longer ago than hold.
func (tr *trustState) noteBlink(smp *[frame.NumChannels]frame.Sample, hold, t time.Duration) {
	tr.blink = false
	for _, c := range witnesses {
		switch {
		case smp[c].OK():
			tr.goodAt[c], tr.seen[c] = t, true
		case tr.seen[c] && t-tr.goodAt[c] <= hold:
			tr.blink = true
		}
	}
}

// holds reports whether a contradiction has held for long enough. A sample that
// is missing for a moment doesn't start its time anew.
func (tr *trustState) holds(c contradiction, now bool, t time.Duration) bool {
	if !now {
		tr.on[c] = tr.on[c] && tr.blink
		return false
	}
	if !tr.on[c] {
		tr.on[c], tr.since[c] = true, t
	}
	return t-tr.since[c] >= contradictFor[c]
}

// stays is holds for a contradiction that, once it has held, also does so while a
// witness blinks: what it says must not flutter with every reading that is lost.
func (tr *trustState) stays(c contradiction, now bool, t time.Duration) bool {
	return tr.holds(c, now, t) || tr.on[c] && t-tr.since[c] >= contradictFor[c]
}

func (e *Engine) inletIgnoresStart(s *State) bool {
	q, rated := s.out.Samples[frame.Flow], e.cfg.Machine.RatedFlowM3s
	pumps := q.OK() && rated > 0 && q.Value > 0.5*rated
	return pumps && s.inletStandsStill(s.out.Samples[frame.InletPressure])
}

// inletStandsStill reports an inlet pressure that is after the start what it
// was before. Every supply gives way to the pump's flow: tap and hose take some
// kilopascals. Tanks, at hardly any pressure, are left out.
func (s *State) inletStandsStill(p frame.Sample) bool {
	const leastPa = 200
	if !p.OK() || !s.trust.restKnown || s.machine.State != machine.Running {
		return false
	}
	rest := s.trust.restInletPa
	return math.Abs(p.Value-rest) < leastPa && rest > tankPa
}
