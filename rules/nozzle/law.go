package nozzle

import (
	"math"

	"headroom/rules/units"
)

// Units of the trade number, exact by definition.
const (
	inchM  = units.MetrePerInch
	psiPa  = units.PascalPerPsi
	gpmM3s = units.M3PerGallon / 60
	// numberPa is the pressure at which the trade number is the flow in gpm.
	numberPa = 4000 * psiPa
	// maxNumber bounds the trade number; an open 1/2 in hose is about 300.
	maxNumber = 1000.0
)

// Factor returns the nozzle factor K of Q = K sqrt(dp), in m3/s per root
// pascal: cd A sqrt(2/rho). Range: cd in (0, 1], area in (0, 0.02] m2, water
// density 900..1200 kg/m3; otherwise ok=false. Source: Bernoulli with a
// discharge coefficient, any text on fluid mechanics; NFPA 291 in US units.
func Factor(cd, areaM2, densityKgM3 float64) (factor float64, ok bool) {
	if !within(cd, 1e-6, 1) || !within(areaM2, 1e-14, 0.02) || !densityOK(densityKgM3) {
		return 0, false
	}
	return keep(cd*areaM2*math.Sqrt(2/densityKgM3), minFactor, maxFactor)
}

// AreaOf is the inverse of Factor: the hole area in m2 that has the factor.
func AreaOf(factor, cd, densityKgM3 float64) (areaM2 float64, ok bool) {
	if !within(factor, minFactor, maxFactor) || !within(cd, 1e-6, 1) || !densityOK(densityKgM3) {
		return 0, false
	}
	return keep(factor/(cd*math.Sqrt(2/densityKgM3)), 1e-14, 0.02)
}

// DiameterOf returns the diameter in m of each of n equal round holes that
// share an area in m2. Range: area in (0, 0.02] m2, n in 1..64.
func DiameterOf(areaM2 float64, n int) (diameterM float64, ok bool) {
	if !within(areaM2, 1e-14, 0.02) || n < 1 || n > 64 {
		return 0, false
	}
	return math.Sqrt(areaM2 / float64(n) * 4 / math.Pi), true
}

// Flow returns Q = K sqrt(dp) in m3/s for a factor in m3/s per root pascal and
// a pressure difference across the nozzle in Pa, 0..200 MPa. Source: as Factor.
func Flow(factor, dropPa float64) (flowM3s float64, ok bool) {
	if !within(factor, minFactor, maxFactor) || !within(dropPa, 0, MaxPressurePa) {
		return 0, false
	}
	return keep(factor*math.Sqrt(dropPa), 0, MaxFlowM3s)
}

// Drop returns dp = (Q/K)^2 in Pa, the inverse of Flow; ok=false above 200 MPa.
func Drop(factor, flowM3s float64) (dropPa float64, ok bool) {
	if !within(factor, minFactor, maxFactor) || !within(flowM3s, 0, MaxFlowM3s) {
		return 0, false
	}
	return keep(square(flowM3s/factor), 0, MaxPressurePa)
}

// FactorFrom returns the factor in m3/s per root pascal of a measured flow and
// pressure difference: Q/sqrt(dp). ok=false without flow or pressure.
func FactorFrom(flowM3s, dropPa float64) (factor float64, ok bool) {
	if !within(flowM3s, MinFlowM3s, MaxFlowM3s) || !within(dropPa, 1e-3, MaxPressurePa) {
		return 0, false
	}
	return keep(flowM3s/math.Sqrt(dropPa), minFactor, maxFactor)
}

// FactorOfNumber returns the factor of a nozzle with the US trade size number:
// the flow in gpm at 4000 psi. Range: number in (0, 1000]. Common practice, no
// source: a convention of the trade that no standard was found for.
func FactorOfNumber(number float64) (factor float64, ok bool) {
	if !within(number, 1e-4, maxNumber) {
		return 0, false
	}
	return keep(number*gpmM3s/math.Sqrt(numberPa), minFactor, maxFactor)
}

// NumberOf is the inverse of FactorOfNumber. Common practice, no source.
func NumberOf(factor float64) (number float64, ok bool) {
	if !within(factor, minFactor, maxFactor) {
		return 0, false
	}
	return keep(factor*math.Sqrt(numberPa)/gpmM3s, 1e-4, maxNumber)
}
