package convert

import (
	"fmt"

	"headroom/rules/frame"
)

// The supply that a Ratiometric takes when none is stated: 5 V and 10 %.
// Common practice, no source.
const (
	defaultMinSupplyV = 4.5
	defaultMaxSupplyV = 5.5
)

// The shares of the supply nearer to its rails than any working transducer
// comes: common practice, no source.
const (
	railLow  = 0.02
	railHigh = 0.98
)

// Ratiometric is a transducer whose output is a share of its supply, such as
// 0.5 to 4.5 V of 5 V. The supply is measured on an input of its own in the
// same scan, so that it drops out. Its bands are those of NE 43 carried over
// to its own span: of 5 V, measuring from 0.45 to 4.625 V and failure at 0.40
// V and below or 4.75 V and above. It tells SignalLow, SignalHigh, BelowBand,
// AboveBand, MarginLow, MarginHigh, NoReference, ReferenceLow and
// ReferenceHigh. A wire off reads as SignalLow only with a resistor from the
// terminal to ground (100 kohm, say): a floating input can read anything.
type Ratiometric struct {
	// LowRatio and HighRatio are the shares of the supply at the ends of the
	// span, 0.1 and 0.9 for 0.5-4.5 V of 5 V. Both 0 means these.
	LowRatio, HighRatio float64
	// Span is the value at both.
	Span Span
	// MinSupplyV and MaxSupplyV bound the supply in V that the transducer
	// allows. Both 0 means 4.5 to 5.5 V.
	MinSupplyV, MaxSupplyV float64
}

func (r Ratiometric) ratios() (lo, hi float64) {
	if r.LowRatio == 0 && r.HighRatio == 0 {
		return 0.1, 0.9
	}
	return r.LowRatio, r.HighRatio
}

func (r Ratiometric) supply() (lo, hi float64) {
	if r.MinSupplyV == 0 && r.MaxSupplyV == 0 {
		return defaultMinSupplyV, defaultMaxSupplyV
	}
	return r.MinSupplyV, r.MaxSupplyV
}

// Convert implements Converter. Source: definition of a ratiometric output;
// the bands are those of NE 43 by similarity.
func (r Ratiometric) Convert(s Signal) Result {
	if res := r.checkSupply(s); res.Reason != OK {
		return res
	}
	lo, hi := r.ratios()
	x := s.VoltV / s.RefV
	if !finite(x) {
		return bad(frame.Failed, NoNumber, 0, UnitNone)
	}
	switch bandsOf(lo, hi).find(x) {
	case inFailLow:
		if x < railLow {
			return bad(frame.Failed, SignalLow, x, UnitRatio)
		}
		return bad(frame.Failed, BelowBand, x, UnitRatio)
	case inMarginLow:
		return bad(frame.OutOfBand, MarginLow, x, UnitRatio)
	case inMarginHigh:
		return bad(frame.OutOfBand, MarginHigh, x, UnitRatio)
	case inFailHigh:
		if x > railHigh {
			return bad(frame.Failed, SignalHigh, x, UnitRatio)
		}
		return bad(frame.Failed, AboveBand, x, UnitRatio)
	}
	return good(r.Span.at((x-lo)/(hi-lo)), x, UnitRatio)
}

// checkSupply returns a result with a reason when the supply is no good.
func (r Ratiometric) checkSupply(s Signal) Result {
	lo, hi := r.supply()
	switch {
	case !s.RefOK || !finite(s.RefV):
		return bad(frame.Failed, NoReference, 0, UnitNone)
	case s.RefV < lo:
		return bad(frame.Failed, ReferenceLow, s.RefV, UnitVolt)
	case s.RefV > hi:
		return bad(frame.Failed, ReferenceHigh, s.RefV, UnitVolt)
	}
	return Result{}
}

// InputV implements Converter: the whole supply, since a short shows there.
func (r Ratiometric) InputV() (lo, hi float64) {
	_, top := r.supply()
	return 0, top
}

// NeedsReference implements Converter.
func (Ratiometric) NeedsReference() bool { return true }

// Validate implements Converter.
func (r Ratiometric) Validate() error {
	lo, hi := r.ratios()
	b := bandsOf(lo, hi)
	if !(lo < hi && b.failLow > railLow && b.failHigh < railHigh) {
		return fmt.Errorf("the shares %v to %v of the supply leave no room to tell a fault at the rails: give for example 0.1 and 0.9", lo, hi)
	}
	if lo, hi := r.supply(); !(lo > 0 && lo < hi && hi <= 36) {
		return fmt.Errorf("a supply of %v to %v V can't be: give the transducer's allowed supply, for example 4.75 and 5.25", lo, hi)
	}
	return r.Span.validate()
}
