// Package suction answers whether the pump's inlet has enough pressure: the
// head available above the vapour pressure (NPSHA), what the pulse of a
// reciprocating pump takes from it, what the pump requires (NPSHR), and the
// margin between them.
//
// It owns the arithmetic of heads at the pump's inlet and the flags that say
// on what an answer rests. Density and vapour pressure are arguments, so that
// it knows no liquid; the friction of the hose is no argument at all, since a
// gauge at the pump reads the pressure after it. It refuses to extrapolate a
// pump's points to higher speeds, to call an acceleration head a value where it
// is only a bound, and to answer outside its ranges.
//
// The published guideline for NPSH margins, ANSI/HI 9.6.1, is for rotodynamic
// pumps. A plunger pump is no such pump: its NPSHR is where it loses 3 percent
// of its capacity, not 3 percent of its head, and its inlet pressure swings
// with each stroke. So the margin that is wanted stays a setting.
package suction

import (
	"math"

	"headroom/rules/units"
)

// GravityMS2 is the standard acceleration of gravity in m/s2. Source: CGPM
// 1901, exact by definition.
const GravityMS2 = units.StandardGravityMS2

// The ranges within which the heads are computed. They are wide: they catch a
// value in the wrong unit and a broken sensor, and judge nothing.
const (
	minAirPa    = 30e3 // above any place where people work
	maxAirPa    = 120e3
	minDensity  = 500.0
	maxDensity  = 1500.0
	maxVelocity = 100.0
	maxHeightM  = 100.0
	maxGaugePa  = 1e8
)

// Inlet is the state of the water at the pump's inlet.
type Inlet struct {
	// GaugePa is the mean pressure at the inlet over the air's, in Pa; below
	// 0 under suction.
	GaugePa float64
	// AirPa is the absolute pressure of the air in Pa, 30e3 to 120e3.
	AirPa float64
	// VapourPa is the absolute saturation pressure at the water's temperature
	// in Pa, 0 or more.
	VapourPa float64
	// DensityKgM3 is the water's density in kg/m3, 500 to 1500.
	DensityKgM3 float64
	// VelocityMS is the mean velocity where the gauge is tapped, in m/s.
	VelocityMS float64
	// GaugeHeightM is how far the gauge stands above the pump's datum, in m;
	// below it is negative.
	GaugeHeightM float64
}

// valid says whether every field stands in its range. A gauge pressure below
// a full vacuum is a broken or wrongly scaled sensor and no state of water.
func (in Inlet) valid() bool {
	return between(in.AirPa, minAirPa, maxAirPa) &&
		between(in.GaugePa, -in.AirPa, maxGaugePa) &&
		between(in.VapourPa, 0, maxGaugePa) &&
		between(in.DensityKgM3, minDensity, maxDensity) &&
		between(in.VelocityMS, 0, maxVelocity) &&
		between(in.GaugeHeightM, -maxHeightM, maxHeightM)
}

// VelocityHeadM returns V2/2g in m for a velocity in m/s. Range: 0 to 100 m/s;
// otherwise ok is false. Source: Bernoulli.
func VelocityHeadM(velocityMS float64) (headM float64, ok bool) {
	if !between(velocityMS, 0, maxVelocity) {
		return 0, false
	}
	return velocityMS * velocityMS / (2 * GravityMS2), true
}

// AvailableM returns the net positive suction head available in m of water:
// the absolute pressure at the inlet over the vapour pressure, plus the
// velocity head, plus the gauge's height over the pump's datum. Range: the
// fields in their ranges; otherwise ok is false. A negative answer is a true
// one: the water at the gauge boils, or a sensor is wrong. The head that the
// pump's pulse takes is not taken off here, see Accelerate. Source: Hydraulic
// Institute, definition as a public pump handbook gives it.
func AvailableM(in Inlet) (npshaM float64, ok bool) {
	if !in.valid() {
		return 0, false
	}
	pressure := (in.GaugePa + in.AirPa - in.VapourPa) / (in.DensityKgM3 * GravityMS2)
	return pressure + movingM(in), true
}

// movingM is the velocity head and the gauge's height, the part of NPSHA that
// no pressure changes.
func movingM(in Inlet) float64 {
	h, _ := VelocityHeadM(in.VelocityMS) // in its range, as valid has said
	return h + in.GaugeHeightM
}

// between says whether x is a number from low to high; NaN is none.
func between(x, low, high float64) bool { return x >= low && x <= high && !math.IsInf(x, 0) }
