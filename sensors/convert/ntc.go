package convert

import (
	"fmt"
	"math"

	"headroom/rules/frame"
)

// SteinhartHart is a thermistor's law 1/T = A + B ln R + C (ln R)^3, with T in
// K and R in ohm. Source: Steinhart and Hart, 1968.
type SteinhartHart struct {
	A, B, C float64
}

// Beta returns the law of a thermistor that has r0Ohm at t0K and the constant
// betaK: 1/T = 1/T0 + ln(R/R0)/beta, which is a Steinhart-Hart law with C = 0.
// It is good near T0 only: over 0 to 100 degrees it can be off by 1 K, so
// prefer three coefficients where the maker gives them.
func Beta(r0Ohm, t0K, betaK float64) SteinhartHart {
	return SteinhartHart{A: 1/t0K - math.Log(r0Ohm)/betaK, B: 1 / betaK}
}

// TempK returns the temperature in K at ohm > 0; ok is false where the law
// gives none.
func (l SteinhartHart) TempK(ohm float64) (tempK float64, ok bool) {
	if !(ohm > 0) {
		return 0, false
	}
	x := math.Log(ohm)
	y := l.A + x*(l.B+l.C*x*x)
	if t := 1 / y; y > 0 && finite(t) && t > 0 {
		return t, true
	}
	return 0, false
}

// NTC is a thermistor. It tells SensorOpen, SensorShort, TooCold and TooHot,
// and the faults of its supply. A very cold sensor and a broken wire look
// alike at the end of the scale: OpenOhm is where the line is drawn.
type NTC struct {
	// Circuit is how it is wired.
	Circuit Circuit
	// Law is its characteristic.
	Law SteinhartHart
	// MinK and MaxK bound the temperatures in K that are believed, within
	// 200 to 600 K. Both 0 means -40 to 125 degrees Celsius.
	MinK, MaxK float64
	// ShortOhm and OpenOhm are the resistances below and above which it is
	// wiring and no temperature. Both 0 means 50 ohm and 500 kohm, which suits
	// a 10 kohm thermistor. Common practice, no source.
	ShortOhm, OpenOhm float64
}

func (n NTC) rangeK() (lo, hi float64) {
	if n.MinK == 0 && n.MaxK == 0 {
		return 233.15, 398.15
	}
	return n.MinK, n.MaxK
}

func (n NTC) faultOhm() (short, open float64) {
	if n.ShortOhm == 0 && n.OpenOhm == 0 {
		return 50, 500e3
	}
	return n.ShortOhm, n.OpenOhm
}

// Convert implements Converter: the temperature in K.
func (n NTC) Convert(s Signal) Result {
	ohm, fault := n.Circuit.ohm(s)
	if fault.Reason != OK {
		return fault
	}
	if short, open := n.faultOhm(); ohm < short {
		return bad(frame.Failed, SensorShort, ohm, UnitOhm)
	} else if ohm > open {
		return bad(frame.Failed, SensorOpen, ohm, UnitOhm)
	}
	t, ok := n.Law.TempK(ohm)
	if !ok {
		return bad(frame.Failed, NoNumber, ohm, UnitOhm)
	}
	lo, hi := n.rangeK()
	return inRange(t, lo, hi, ohm)
}

// inRange makes the result of a temperature.
func inRange(tempK, lo, hi, ohm float64) Result {
	switch {
	case tempK < lo:
		return bad(frame.OutOfBand, TooCold, ohm, UnitOhm)
	case tempK > hi:
		return bad(frame.OutOfBand, TooHot, ohm, UnitOhm)
	}
	return good(tempK, ohm, UnitOhm)
}

// InputV implements Converter.
func (n NTC) InputV() (lo, hi float64) {
	_, open := n.faultOhm()
	return n.Circuit.inputV(open)
}

// NeedsReference implements Converter.
func (n NTC) NeedsReference() bool { return n.Circuit.NeedsReference() }

// Validate implements Converter: the law must fall steadily between the fault
// resistances, so that one resistance means one temperature.
func (n NTC) Validate() error {
	if err := n.Circuit.validate(); err != nil {
		return err
	}
	short, open := n.faultOhm()
	if !(short > 0 && short < open && open <= 1e8) {
		return fmt.Errorf("a thermistor can't be shorted below %v ohm and open above %v ohm: give for example 50 and 500000", short, open)
	}
	if lo, hi := n.rangeK(); !(lo >= 200 && lo < hi && hi <= 600) {
		return fmt.Errorf("a thermistor's range of %v to %v K can't be: give kelvins within 200 to 600", lo, hi)
	}
	for _, ohm := range []float64{short, math.Max(short, math.Min(open, 1)), open} {
		x := math.Log(ohm)
		if !(n.Law.B+3*n.Law.C*x*x > 0) {
			return fmt.Errorf("the thermistor's coefficients %v don't fall with temperature at %v ohm: check their order and exponents", n.Law, ohm)
		}
	}
	for _, ohm := range []float64{short, open} {
		if _, ok := n.Law.TempK(ohm); !ok {
			return fmt.Errorf("the thermistor's coefficients %v give no temperature at %v ohm: check them, or narrow the short and open limits", n.Law, ohm)
		}
	}
	return nil
}
