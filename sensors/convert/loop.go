package convert

import (
	"fmt"

	"headroom/rules/frame"
)

// Within the failure bands of NE 43: below loopOpenA the loop is open rather
// than a transmitter reporting, above loopShortA it is shorted. Common
// practice, no source: transmitters that report a failure do so between these.
const (
	loopOpenA  = 3.0e-3
	loopShortA = 23.0e-3
)

// Loop is a 4-20 mA transmitter over a shunt, judged by NAMUR NE 43. It tells
// LoopOpen, LoopShort, SignalsFailureLow, SignalsFailureHigh and, between the
// measuring and the failure bands, MarginLow and MarginHigh as OutOfBand.
type Loop struct {
	// ShuntOhm is the measured resistance of the shunt, 1 to 1000 ohm.
	ShuntOhm float64
	// Span is the value at 4 and at 20 mA.
	Span Span
}

var loopBands = bands{FailLowA, MeasureLowA, MeasureHighA, FailHighA}

// Convert implements Converter. Source: value = low + (I-4)/16 (high-low),
// NE 43 for the bands.
func (l Loop) Convert(s Signal) Result {
	a := s.VoltV / l.ShuntOhm
	if !finite(a) {
		return bad(frame.Failed, NoNumber, 0, UnitNone)
	}
	switch loopBands.find(a) {
	case inFailLow:
		if a < loopOpenA {
			return bad(frame.Failed, LoopOpen, a, UnitAmpere)
		}
		return bad(frame.Failed, SignalsFailureLow, a, UnitAmpere)
	case inMarginLow:
		return bad(frame.OutOfBand, MarginLow, a, UnitAmpere)
	case inMarginHigh:
		return bad(frame.OutOfBand, MarginHigh, a, UnitAmpere)
	case inFailHigh:
		if a > loopShortA {
			return bad(frame.Failed, LoopShort, a, UnitAmpere)
		}
		return bad(frame.Failed, SignalsFailureHigh, a, UnitAmpere)
	}
	return good(l.Span.at((a-4e-3)/16e-3), a, UnitAmpere)
}

// InputV implements Converter: 0 to a loop just past a short.
func (l Loop) InputV() (lo, hi float64) { return 0, loopShortA * 1.02 * l.ShuntOhm }

// NeedsReference implements Converter.
func (Loop) NeedsReference() bool { return false }

// Validate implements Converter.
func (l Loop) Validate() error {
	if !(l.ShuntOhm >= 1 && l.ShuntOhm <= 1000) {
		return fmt.Errorf("a shunt of %v ohm can't be: give 1 to 1000 ohm, for example 100", l.ShuntOhm)
	}
	return l.Span.validate()
}
