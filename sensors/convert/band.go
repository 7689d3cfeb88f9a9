package convert

import (
	"fmt"
	"time"

	"headroom/rules/frame"
)

// The bands of NAMUR NE 43 for a 4-20 mA loop, in A: a measured value between
// MeasureLowA and MeasureHighA, a failure at FailLowA and below or FailHighA
// and above, and a margin between, which is neither. Source: NAMUR NE 43, from
// secondary pages; the standard itself was not at hand.
const (
	FailLowA     = 3.6e-3
	MeasureLowA  = 3.8e-3
	MeasureHighA = 20.5e-3
	FailHighA    = 21.0e-3
)

// Span is the linear scale of a transducer: its value at the low and at the
// high end of its signal, in the channel's SI unit. High may be below Low.
type Span struct {
	Low, High float64
}

func (s Span) at(share float64) float64 { return s.Low + share*(s.High-s.Low) }

func (s Span) validate() error {
	if !finite(s.Low) || !finite(s.High) || s.Low == s.High {
		return fmt.Errorf("the scale %v to %v isn't one: give the values at both ends of the signal, and let them differ", s.Low, s.High)
	}
	return nil
}

// bands are the four limits of a signal with a live zero, in the signal's own
// unit.
type bands struct {
	failLow, measureLow, measureHigh, failHigh float64
}

// bandsOf maps the bands of NE 43 onto a signal that runs from low to high
// instead of from 4 to 20 mA.
func bandsOf(low, high float64) bands {
	at := func(a float64) float64 { return low + (a-4e-3)/16e-3*(high-low) }
	return bands{at(FailLowA), at(MeasureLowA), at(MeasureHighA), at(FailHighA)}
}

// place says where a signal is among the bands.
type place uint8

const (
	inFailLow place = iota
	inMarginLow
	inMeasure
	inMarginHigh
	inFailHigh
)

// find places x. Limits belong to the band that the standard gives them to,
// with a billionth of the span for the rounding of a division.
func (b bands) find(x float64) place {
	tiny := 1e-9 * (b.failHigh - b.failLow)
	switch {
	case x <= b.failLow+tiny:
		return inFailLow
	case x < b.measureLow-tiny:
		return inMarginLow
	case x <= b.measureHigh+tiny:
		return inMeasure
	case x < b.failHigh-tiny:
		return inMarginHigh
	}
	return inFailHigh
}

// Hold turns a signal that stays in the margin between the bands of NE 43 into
// a failed one. The margin itself is OutOfBand from the first moment, so that
// nothing is judged on it; Hold only decides what to call it. The zero Hold is
// ready for use. It is plain data and belongs to one input.
type Hold struct {
	in    bool
	since time.Duration
}

// DefaultHold is how long a signal may stay in the margin. Common practice, no
// source.
const DefaultHold = 4 * time.Second

// Judge passes r on, as Failed with MarginTooLong once the signal has been in
// the margin for at least after. now is monotonic.
func (h *Hold) Judge(r Result, now, after time.Duration) Result {
	if r.Reason != MarginLow && r.Reason != MarginHigh {
		h.in = false
		return r
	}
	if !h.in {
		h.in, h.since = true, now
	}
	if now-h.since >= after {
		r.Status, r.Reason = frame.Failed, MarginTooLong
	}
	return r
}
