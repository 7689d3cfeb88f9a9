package convert

import (
	"fmt"
	"math"

	"headroom/rules/frame"
)

// The coefficients of IEC 60751 for industrial platinum resistors, per degree
// Celsius, its square and its fourth power, and its range in K.
const (
	platinumA = 3.9083e-3
	platinumB = -5.775e-7
	platinumC = -4.183e-12

	// PlatinumMinK and PlatinumMaxK bound the standard's range: -200 to 850
	// degrees Celsius.
	PlatinumMinK = 73.15
	PlatinumMaxK = 1123.15

	zeroK = 273.15
)

// platinumRatio is R(t)/R(0) at t degrees Celsius, and its slope.
func platinumRatio(t float64) (ratio, slope float64) {
	ratio = 1 + t*(platinumA+t*platinumB)
	slope = platinumA + 2*t*platinumB
	if t < 0 {
		ratio += platinumC * (t - 100) * t * t * t
		slope += platinumC * (4*t - 300) * t * t
	}
	return ratio, slope
}

// The ratios at both ends of the standard's range.
var (
	platinumMinRatio, _ = platinumRatio(PlatinumMinK - zeroK)
	platinumMaxRatio, _ = platinumRatio(PlatinumMaxK - zeroK)
)

// PlatinumOhm returns the resistance at tempK of a platinum resistor that has
// r0Ohm at 0 degrees Celsius; ok is false outside PlatinumMinK to
// PlatinumMaxK. Source: IEC 60751, the Callendar-Van Dusen equation.
func PlatinumOhm(r0Ohm, tempK float64) (ohm float64, ok bool) {
	const rounding = 1e-9 // of a conversion from degrees Celsius
	if !(tempK >= PlatinumMinK-rounding && tempK <= PlatinumMaxK+rounding) || !(r0Ohm > 0) {
		return 0, false
	}
	ratio, _ := platinumRatio(tempK - zeroK)
	return r0Ohm * ratio, finite(r0Ohm * ratio)
}

// PlatinumTempK is the inverse of PlatinumOhm, to better than a microkelvin;
// ok is false for a resistance that the standard's range doesn't have. At and
// above 0 degrees it is the root of the quadratic; below, Newton's method from
// there, which four steps bring to the last bits.
func PlatinumTempK(r0Ohm, ohm float64) (tempK float64, ok bool) {
	ratio := ohm / r0Ohm
	if !(ratio >= platinumMinRatio && ratio <= platinumMaxRatio) {
		return 0, false
	}
	root := math.Sqrt(platinumA*platinumA - 4*platinumB*(1-ratio))
	t := (root - platinumA) / (2 * platinumB)
	if ratio < 1 {
		for range 4 {
			got, slope := platinumRatio(t)
			t -= (got - ratio) / slope
		}
	}
	return t + zeroK, true
}

// RTD is a platinum resistor, Pt100 or Pt1000, by IEC 60751. It tells
// SensorShort below the resistance that platinum has at -200 degrees Celsius,
// SensorOpen above that at 850, and TooCold and TooHot outside its own range.
type RTD struct {
	// Circuit is how it is wired. With two wires, 0.4 ohm of leads makes a
	// Pt100 read 1 K high: state them.
	Circuit Circuit
	// R0Ohm is the resistance at 0 degrees Celsius: 100 or 1000, within 10 to
	// 10000.
	R0Ohm float64
	// MinK and MaxK bound the temperatures in K that are believed. Both 0
	// means -50 to 150 degrees Celsius.
	MinK, MaxK float64
}

func (r RTD) rangeK() (lo, hi float64) {
	if r.MinK == 0 && r.MaxK == 0 {
		return 223.15, 423.15
	}
	return r.MinK, r.MaxK
}

// Convert implements Converter: the temperature in K.
func (r RTD) Convert(s Signal) Result {
	ohm, fault := r.Circuit.ohm(s)
	if fault.Reason != OK {
		return fault
	}
	t, ok := PlatinumTempK(r.R0Ohm, ohm)
	switch {
	case !ok && ohm < r.R0Ohm:
		return bad(frame.Failed, SensorShort, ohm, UnitOhm)
	case !ok:
		return bad(frame.Failed, SensorOpen, ohm, UnitOhm)
	}
	lo, hi := r.rangeK()
	return inRange(t, lo, hi, ohm)
}

// InputV implements Converter.
func (r RTD) InputV() (lo, hi float64) { return r.Circuit.inputV(r.R0Ohm * platinumMaxRatio) }

// NeedsReference implements Converter.
func (r RTD) NeedsReference() bool { return r.Circuit.NeedsReference() }

// Validate implements Converter.
func (r RTD) Validate() error {
	if !(r.R0Ohm >= 10 && r.R0Ohm <= 10e3) {
		return fmt.Errorf("a platinum resistor of %v ohm can't be: give 100 or 1000", r.R0Ohm)
	}
	if lo, hi := r.rangeK(); !(lo >= PlatinumMinK && lo < hi && hi <= PlatinumMaxK) {
		return fmt.Errorf("a platinum resistor's range of %v to %v K can't be: give kelvins within %v to %v", lo, hi, PlatinumMinK, PlatinumMaxK)
	}
	return r.Circuit.validate()
}
