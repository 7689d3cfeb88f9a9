package engine

import (
	"math"
	"time"

	"headroom/rules/frame"
)

// signalState is one channel's memory: its filter and its stuck check.
type signalState struct {
	filtered float64
	primed   bool
	raw      float64
	sameFrom time.Duration
	seen     bool
}

func (st *signalState) restart() { st.primed, st.seen = false, false }

// condition turns the raw frame into the samples that the rules see: it trusts
// no number that isn't finite or lies outside the sensor's band, finds values
// that have lost their noise, and smooths where the config says so.
func (e *Engine) condition(s *State, f *frame.Frame, t time.Duration) {
	turning := s.machine.State.Turning()
	for c := range f.Samples {
		sig := &e.cfg.Signals[c]
		smp := f.Samples[c]
		if !sig.Fitted {
			s.out.Samples[c] = frame.Sample{}
			continue
		}
		s.out.Samples[c] = sig.apply(&s.signals[c], smp, t, s.dtS, turning)
	}
}

func (sig *Signal) apply(st *signalState, smp frame.Sample, t time.Duration, dtS float64, turning bool) frame.Sample {
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
	if !smp.OK() {
		st.restart()
		return smp
	}
	if sig.stuck(st, smp.Value, t, turning) {
		smp.Status = frame.Stuck
		return smp
	}
	smp.Value = sig.smooth(st, smp.Value, dtS)
	return smp
}

// stuck reports a value that stayed the same to the last bit for too long
// while the pump turns: a live sensor on a turning pump has noise.
func (sig *Signal) stuck(st *signalState, v float64, t time.Duration, turning bool) bool {
	if !st.seen || v != st.raw || !turning {
		st.seen, st.raw, st.sameFrom = true, v, t
		return false
	}
	return sig.StuckAfter > 0 && t-st.sameFrom >= sig.StuckAfter
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
