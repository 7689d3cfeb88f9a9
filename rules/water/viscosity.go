package water

import (
	"math"

	"headroom/rules/detmath"
)

// The reducing constants of R12-08 section 2.1 and the bounds of its
// verification points, which bound ViscosityAtDensityPaS.
const (
	criticalK        = 647.096
	criticalKgM3     = 322
	minViscosityK    = 273.15
	maxViscosityK    = 1173.15
	maxViscosityKgM3 = 1200
)

// viscosityH0 is R12-08 Table 1 (dilute gas). It is never written.
var viscosityH0 = [4]float64{1.67752, 2.20462, 0.6366564, -0.241605}

// viscosityH1 is R12-08 Table 2, row i (temperature), column j (density). It
// is never written.
var viscosityH1 = [6][7]float64{
	{5.20094e-1, 2.22531e-1, -2.81378e-1, 1.61913e-1, -3.25372e-2, 0, 0},
	{8.50895e-2, 9.99115e-1, -9.06851e-1, 2.57399e-1, 0, 0, 0},
	{-1.08374, 1.88797, -7.72479e-1, 0, 0, 0, 0},
	{-2.89555e-1, 1.26613, -4.89837e-1, 0, 6.98452e-2, 0, -4.35673e-3},
	{0, 0, -2.57040e-1, 0, 0, 8.72102e-3, 0},
	{0, 1.20573e-1, 0, 0, 0, 0, -5.93264e-4},
}

// ViscosityAtDensityPaS returns the dynamic viscosity in Pa s of water or
// steam of tempK (kelvin) at a density in kg/m3. Range 273.15 to 1173.15 K and
// above 0 to 1200 kg/m3, the bounds of the release's verification points; it
// doesn't check that this state exists. The critical enhancement is 1. Outside
// the range and for NaN ok is false and the value 0.
// Source: IAPWS R12-08 eq. 10 with eq. 11, 12.
func ViscosityAtDensityPaS(tempK, densityKgM3 float64) (paS float64, ok bool) {
	if !(tempK >= minViscosityK && tempK <= maxViscosityK) ||
		!(densityKgM3 > 0 && densityKgM3 <= maxViscosityKgM3) {
		return 0, false
	}
	return viscosity(tempK, densityKgM3), true
}

// viscosity is R12-08 eq. 10 without its range check.
func viscosity(tempK, densityKgM3 float64) float64 {
	t := tempK / criticalK
	rho := densityKgM3 / criticalKgM3
	inv := 1 / t
	den := viscosityH0[3]
	for i := 2; i >= 0; i-- {
		den = float64(den*inv) + viscosityH0[i]
	}
	dilute := 100 * math.Sqrt(t) / den

	x, y := inv-1, rho-1
	sum := 0.0
	for i := 5; i >= 0; i-- {
		row := &viscosityH1[i]
		inner := row[6]
		for j := 5; j >= 0; j-- {
			inner = float64(inner*y) + row[j]
		}
		sum = float64(sum*x) + inner
	}
	return 1e-6 * dilute * detmath.Exp(rho*sum)
}
