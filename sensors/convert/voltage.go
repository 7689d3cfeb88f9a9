package convert

import (
	"fmt"

	"headroom/rules/frame"
)

// Voltage is a transmitter with a voltage output, 0-10 V or with a live zero
// such as 1-5 V. Its bands are those of NE 43 carried over to its span. It
// tells AboveBand (a short to a supply), MarginHigh and Reversed; with a live
// zero also SignalLow, BelowBand and MarginLow; with OpenHigh also WireOff.
// Without a live zero and without OpenHigh a wire off can NOT be told from a
// true zero: see TellsWireOff.
type Voltage struct {
	// LowV and HighV are the voltages at the ends of the span, 0 <= LowV <
	// HighV <= 36 V.
	LowV, HighV float64
	// Span is the value at both.
	Span Span
	// OpenHigh says that a pull-up on the input lifts an open wire above the
	// failure band.
	OpenHigh bool
}

// TellsWireOff reports whether a broken signal wire can be told from a
// reading. Where it can't, another channel must contradict the zero.
func (v Voltage) TellsWireOff() bool { return v.OpenHigh || v.liveZero() }

func (v Voltage) bands() bands   { return bandsOf(v.LowV, v.HighV) }
func (v Voltage) liveZero() bool { return v.bands().failLow > railLow*v.HighV }

// Convert implements Converter. A 0-10 V signal a little below zero, down to
// the failure band, still measures: an offset of the input isn't a fault.
// Source: definition of a linear output; bands by similarity to NE 43.
func (v Voltage) Convert(s Signal) Result {
	x := s.VoltV
	if !finite(x) {
		return bad(frame.Failed, NoNumber, 0, UnitNone)
	}
	switch v.bands().find(x) {
	case inFailLow:
		return v.low(x)
	case inMarginLow:
		if v.liveZero() {
			return bad(frame.OutOfBand, MarginLow, x, UnitVolt)
		}
	case inMarginHigh:
		return bad(frame.OutOfBand, MarginHigh, x, UnitVolt)
	case inFailHigh:
		if v.OpenHigh {
			return bad(frame.Failed, WireOff, x, UnitVolt)
		}
		return bad(frame.Failed, AboveBand, x, UnitVolt)
	}
	return good(v.Span.at((x-v.LowV)/(v.HighV-v.LowV)), x, UnitVolt)
}

// low names a voltage in the low failure band.
func (v Voltage) low(x float64) Result {
	switch {
	case !v.liveZero() || x < -railLow*v.HighV:
		return bad(frame.Failed, Reversed, x, UnitVolt)
	case x < railLow*v.HighV:
		return bad(frame.Failed, SignalLow, x, UnitVolt)
	}
	return bad(frame.Failed, BelowBand, x, UnitVolt)
}

// InputV implements Converter.
func (v Voltage) InputV() (lo, hi float64) {
	return min(0, v.bands().failLow), v.bands().failHigh * 1.01
}

// NeedsReference implements Converter.
func (Voltage) NeedsReference() bool { return false }

// Validate implements Converter.
func (v Voltage) Validate() error {
	if !(v.LowV >= 0 && v.LowV < v.HighV && v.HighV <= 36) {
		return fmt.Errorf("an output of %v to %v V can't be: give for example 0 and 10", v.LowV, v.HighV)
	}
	return v.Span.validate()
}
