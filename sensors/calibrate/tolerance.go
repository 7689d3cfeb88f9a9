package calibrate

import "headroom/rules/units"

// tolerances within which a reading counts as steady where none is given, SI: a
// third of what a working sensor of the trade is good for. Common practice, no
// source.
var tolerances = map[units.Quantity]float64{
	units.Pressure: 2e3, units.Temperature: 0.2, units.FlowRate: 2e-6, units.Current: 0.1, units.Speed: 0.1,
	units.Voltage: 0.5, units.Acceleration: 0.2, units.Fraction: 0.01,
}

// Tolerance returns what suits a quantity for Setup.Tolerance, in its SI unit;
// ok is false for a quantity that no channel has. Common practice, no source.
func Tolerance(q units.Quantity) (si float64, ok bool) {
	si, ok = tolerances[q]
	return si, ok
}
