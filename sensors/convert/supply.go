package convert

import (
	"fmt"

	"headroom/rules/frame"
)

// Supply is a plain voltage measured as the reference of other inputs, such as
// the 5 V of a ratiometric transducer. Below a tenth of MinV it is SignalLow,
// else ReferenceLow or ReferenceHigh outside of the band.
type Supply struct {
	// MinV and MaxV bound what is allowed, 0 < MinV < MaxV <= 36 V.
	MinV, MaxV float64
}

// Convert implements Converter: the value is the voltage itself.
func (p Supply) Convert(s Signal) Result {
	switch x := s.VoltV; {
	case !finite(x):
		return bad(frame.Failed, NoNumber, 0, UnitNone)
	case x < 0.1*p.MinV:
		return bad(frame.Failed, SignalLow, x, UnitVolt)
	case x < p.MinV:
		return bad(frame.Failed, ReferenceLow, x, UnitVolt)
	case x > p.MaxV:
		return bad(frame.Failed, ReferenceHigh, x, UnitVolt)
	default:
		return good(x, x, UnitVolt)
	}
}

// InputV implements Converter.
func (p Supply) InputV() (lo, hi float64) { return 0, 1.02 * p.MaxV }

// NeedsReference implements Converter.
func (Supply) NeedsReference() bool { return false }

// Validate implements Converter.
func (p Supply) Validate() error {
	if !(p.MinV > 0 && p.MinV < p.MaxV && p.MaxV <= 36) {
		return fmt.Errorf("a supply of %v to %v V can't be: give for example 4.75 and 5.25", p.MinV, p.MaxV)
	}
	return nil
}
