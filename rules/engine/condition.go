package engine

import (
	"math"
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

// signalState is one channel's memory: its filter, its stuck check, its noise
// and the value that a jump is measured from.
type signalState struct {
	filtered, mean, noiseSq float64
	primed                  bool
	raw                     float64
	// sameFor is how long the value has been the same while the pump turned;
	// held is set once that was too long.
	sameFor time.Duration
	held    bool
	// at is when the last sample came; seen says whether one has.
	at       time.Duration
	seen     bool
	settledS float64
	bounce   bounceState
	jumped   bool
	jumpFrom time.Duration
}

func (st *signalState) restart() { *st = signalState{} }

// condition turns the raw frame into the samples that the rules see: it trusts
// no number that isn't finite or lies outside the sensor's band, finds values
// that have lost their noise, have too much of it, or jump faster than the
// quantity can, and smooths where the config says so.
func (e *Engine) condition(s *State, f *frame.Frame, t time.Duration) {
	pump := pumpOf(s.machine.State)
	for c := range f.Samples {
		sig := &e.cfg.Signals[c]
		smp := f.Samples[c]
		if !sig.Fitted {
			s.out.Samples[c] = frame.Sample{}
			continue
		}
		turns := pump
		if frame.Channel(c) == frame.OutletPressure && e.nothingPressed(s, smp.Value) {
			turns = machine.No // it rests as it does while the pump stands
		}
		s.out.Samples[c] = sig.apply(&s.signals[c], smp, t, s.dtS, turns)
	}
}

// The outlet pressure, as a share of the rating, below which there is none, and
// how far between no load and the rating the motor may then be. Common
// practice, no source.
const (
	noPressure = 0.01
	idleShare  = 0.25
)

// nothingPressed reports an outlet without pressure, where the flow or the
// motor says the same: a dry line or a burst one rests at 0 and its reading is
// not stuck. One that rests there against both is.
func (e *Engine) nothingPressed(s *State, outletPa float64) bool {
	m, p := &e.cfg.Machine, &e.cfg.Plant
	if m.RatedOutletPa <= 0 || math.Abs(outletPa) > float64(noPressure*m.RatedOutletPa) {
		return false
	}
	q, i := s.out.Samples[frame.Flow], s.out.Samples[frame.MotorCurrent]
	dry := q.OK() && m.FlowOnM3s > 0 && q.Value < m.FlowOnM3s
	idle := i.OK() && p.NoLoadA > 0 && i.Value < p.NoLoadA+float64(idleShare*(p.RatedA-p.NoLoadA))
	return dry || idle
}

// pumpOf tells whether the pump turned after the last step.
func pumpOf(st machine.State) machine.Tri {
	switch {
	case st == machine.Unknown:
		return machine.CannotTell
	case st.Turning():
		return machine.Yes
	}
	return machine.No
}

func (sig *Signal) apply(st *signalState, smp frame.Sample, t time.Duration, dtS float64, turning machine.Tri) frame.Sample {
	smp = sig.believe(smp)
	if !smp.OK() {
		st.restart()
		return smp
	}
	v := smp.Value
	stuck, jump := sig.stuck(st, v, t, turning), sig.jumps(st, v, t, dtS)
	offMean := v - st.mean
	st.followNoise(v, dtS, turning == machine.Yes || st.held)
	bounces := sig.bounces(st, offMean, dtS)
	if !jump {
		st.raw = v
	}
	switch {
	case stuck:
		smp.Status = frame.Stuck
	case jump, bounces:
		smp.Status = frame.Suspect
	default:
		smp.Value = sig.smooth(st, v, dtS)
	}
	st.seen, st.at = true, t
	return smp
}

// believe trusts no number that isn't one, or that the sensor can't give.
func (sig *Signal) believe(smp frame.Sample) frame.Sample {
	if smp.Status == frame.NotFitted {
		smp.Status = frame.Missing // the config says it is there
	}
	if math.IsNaN(smp.Value) || math.IsInf(smp.Value, 0) {
		// Not a number is no reading, and must not travel on.
		smp.Value = 0
		if smp.OK() {
			smp.Status = frame.Failed
		}
	}
	if smp.OK() && (smp.Value < sig.Min || smp.Value > sig.Max) {
		smp.Status = frame.OutOfBand
	}
	return smp
}

// noiseS is the memory of the noise, in seconds.
const noiseS = 2.0

// followNoise follows the RMS of what is fast in the signal. A pump that comes
// or goes moves everything, so the noise settles anew then.
func (st *signalState) followNoise(v, dtS float64, turning bool) {
	if !st.seen || !turning {
		st.mean, st.noiseSq, st.settledS = v, 0, 0
		return
	}
	gain := gainOf(dtS, noiseS)
	d := v - st.mean
	st.mean += float64(gain * d)
	st.noiseSq += float64(gain * (float64(d*d) - st.noiseSq))
	st.settledS += dtS
}

// stuck reports a value that stayed the same to the last bit, or whose noise
// has sunk below the least a live sensor has, for too long while the pump
// turns. Once stuck it is stuck until it moves, whatever the pump does: the
// channel may be the one that tells what the pump does, and would then be good
// again at the moment it is found out. While nothing tells whether the pump
// turns the time neither runs nor starts anew.
func (sig *Signal) stuck(st *signalState, v float64, t time.Duration, turning machine.Tri) bool {
	quiet := sig.MinNoise > 0 && st.settledS > noiseS && math.Sqrt(st.noiseSq) < sig.MinNoise
	switch {
	case !st.seen, v != st.raw && !quiet:
		st.sameFor, st.held = 0, false
	case st.held:
	case turning == machine.No:
		st.sameFor = 0
	case turning == machine.Yes:
		st.sameFor += t - st.at
		st.held = sig.StuckAfter > 0 && st.sameFor >= sig.StuckAfter
	}
	return st.held
}

// jumpHold is how long a jump counts as a disturbance; what stays longer is
// taken for real. Common practice, no source.
const jumpHold = 3 * time.Second

// jumps reports a value that is farther from the last one than the quantity
// can move in the time.
func (sig *Signal) jumps(st *signalState, v float64, t time.Duration, dtS float64) bool {
	if sig.MaxRate <= 0 || !st.seen {
		st.jumped = false
		return false
	}
	if math.Abs(v-st.raw) <= sig.MaxRate*math.Max(dtS, st.sinceJumpS(t)) {
		st.jumped = false
		return false
	}
	if !st.jumped {
		st.jumped, st.jumpFrom = true, t
	}
	if t-st.jumpFrom >= jumpHold {
		st.jumped = false
		return false
	}
	return true
}

func (st *signalState) sinceJumpS(t time.Duration) float64 {
	if !st.jumped {
		return 0
	}
	return (t - st.jumpFrom).Seconds()
}

// smooth is a first-order filter; a step in the input is followed to 63 % in
// SmoothS seconds. Source: any text on signal processing.
func (sig *Signal) smooth(st *signalState, v, dtS float64) float64 {
	if sig.SmoothS <= 0 {
		return v
	}
	if !st.primed || dtS <= 0 {
		if !st.primed {
			st.primed, st.filtered = true, v
		}
		return st.filtered
	}
	st.filtered += float64(gainOf(dtS, sig.SmoothS) * (v - st.filtered))
	return st.filtered
}
