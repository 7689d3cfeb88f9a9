package water

import "math"

// The range of the liquid functions, IF97 region 1. The lower pressure bound
// is the saturation pressure of the temperature.
const (
	// MinK and MaxK bound the temperature of the liquid functions, in kelvin.
	MinK = 273.15
	MaxK = 623.15
	// MaxPa bounds their pressure, in absolute pascal.
	MaxPa = 100e6
)

// Properties are the properties of liquid water in one state. The zero value
// stands for "not known".
type Properties struct {
	// TempK is the temperature in kelvin and AbsPa the absolute pressure in
	// pascal the other fields hold for.
	TempK, AbsPa float64
	// SatPressurePa is the absolute pressure in pascal at which water of this
	// temperature boils.
	SatPressurePa float64
	// DensityKgM3 is the density in kg/m3.
	DensityKgM3 float64
	// SpecificHeatJKgK is the isobaric heat capacity in J/(kg K).
	SpecificHeatJKgK float64
	// EnthalpyJKg is the specific enthalpy in J/kg. Only differences of it
	// mean anything; it is about 0 at the triple point.
	EnthalpyJKg float64
	// SoundSpeedMS is the speed of sound in m/s of the unbounded liquid; in a
	// hose it is far lower, since the wall gives.
	SoundSpeedMS float64
	// ViscosityPaS is the dynamic viscosity in Pa s.
	ViscosityPaS float64
}

// KinematicViscosityM2S is the kinematic viscosity in m2/s, or 0 for the zero
// value.
func (p Properties) KinematicViscosityM2S() float64 {
	if p.DensityKgM3 <= 0 {
		return 0
	}
	return p.ViscosityPaS / p.DensityKgM3
}

// SpecificVolumeM3Kg is the specific volume in m3/kg, or 0 for the zero value.
func (p Properties) SpecificVolumeM3Kg() float64 {
	if p.DensityKgM3 <= 0 {
		return 0
	}
	return 1 / p.DensityKgM3
}

// isLiquid reports whether the state lies in region 1, and the saturation
// pressure of its temperature.
func isLiquid(tempK, absPa float64) (satPa float64, ok bool) {
	if !(tempK >= MinK && tempK <= MaxK) {
		return 0, false
	}
	satPa = satPressure(tempK)
	return satPa, absPa >= satPa && absPa <= MaxPa
}

// Props returns all properties of liquid water of tempK (kelvin) under absPa
// (absolute pascal). Range MinK to MaxK and from the saturation pressure to
// MaxPa; outside it, and for NaN, ok is false and the value zero.
// Source: IAPWS R7-97(2012) region 1, R12-08 for the viscosity.
func Props(tempK, absPa float64) (p Properties, ok bool) {
	satPa, ok := isLiquid(tempK, absPa)
	if !ok {
		return Properties{}, false
	}
	g := newGibbs(tempK, absPa)
	rho := 1 / g.volume(tempK)
	return Properties{
		TempK: tempK, AbsPa: absPa, SatPressurePa: satPa,
		DensityKgM3:      rho,
		SpecificHeatJKgK: g.heatCapacity(),
		EnthalpyJKg:      g.enthalpy(),
		SoundSpeedMS:     math.Sqrt(g.soundSpeedSquared(tempK)),
		ViscosityPaS:     viscosity(tempK, rho),
	}, true
}

// SpecificVolumeM3Kg returns the specific volume in m3/kg of liquid water, in
// the range of Props.
// Source: IAPWS R7-97(2012) Table 3.
func SpecificVolumeM3Kg(tempK, absPa float64) (m3Kg float64, ok bool) {
	if _, ok := isLiquid(tempK, absPa); !ok {
		return 0, false
	}
	return newGibbs(tempK, absPa).volume(tempK), true
}

// DensityKgM3 returns the density in kg/m3 of liquid water, in the range of
// Props.
// Source: IAPWS R7-97(2012) Table 3.
func DensityKgM3(tempK, absPa float64) (kgM3 float64, ok bool) {
	v, ok := SpecificVolumeM3Kg(tempK, absPa)
	if !ok {
		return 0, false
	}
	return 1 / v, true
}

// SpecificHeatJKgK returns the isobaric heat capacity in J/(kg K) of liquid
// water, in the range of Props.
// Source: IAPWS R7-97(2012) Table 3.
func SpecificHeatJKgK(tempK, absPa float64) (jKgK float64, ok bool) {
	if _, ok := isLiquid(tempK, absPa); !ok {
		return 0, false
	}
	return newGibbs(tempK, absPa).heatCapacity(), true
}

// EnthalpyJKg returns the specific enthalpy in J/kg of liquid water, in the
// range of Props; about 0 at the triple point, slightly negative near it.
// Source: IAPWS R7-97(2012) Table 3.
func EnthalpyJKg(tempK, absPa float64) (jKg float64, ok bool) {
	if _, ok := isLiquid(tempK, absPa); !ok {
		return 0, false
	}
	return newGibbs(tempK, absPa).enthalpy(), true
}

// SoundSpeedMS returns the speed of sound in m/s in unbounded liquid water, in
// the range of Props.
// Source: IAPWS R7-97(2012) Table 3.
func SoundSpeedMS(tempK, absPa float64) (mS float64, ok bool) {
	if _, ok := isLiquid(tempK, absPa); !ok {
		return 0, false
	}
	return math.Sqrt(newGibbs(tempK, absPa).soundSpeedSquared(tempK)), true
}

// ViscosityPaS returns the dynamic viscosity in Pa s of liquid water, in the
// range of Props.
// Source: IAPWS R12-08 at the density of R7-97(2012) region 1.
func ViscosityPaS(tempK, absPa float64) (paS float64, ok bool) {
	rho, ok := DensityKgM3(tempK, absPa)
	if !ok {
		return 0, false
	}
	return viscosity(tempK, rho), true
}
