package nozzle

import "math"

// Line is a high-pressure hose with a nozzle at its end.
type Line struct {
	// LengthM and BoreM of the hose in m; LengthM 0 is no hose.
	LengthM, BoreM float64
	// FactorM3sRootPa is the nozzle's factor, m3/s per root pascal.
	FactorM3sRootPa float64
}

// HoseCoefficient returns c of friction = c Q^2, Pa/(m3/s)^2, from the friction
// at one flow, for Expected. Near that flow it is good to a few percent, since
// turbulent friction goes with about the 1.8th power.
func HoseCoefficient(frictionPa, flowM3s float64) (coefficient float64, ok bool) {
	if !within(frictionPa, 0, MaxPressurePa) || !within(flowM3s, MinFlowM3s, MaxFlowM3s) {
		return 0, false
	}
	return frictionPa / square(flowM3s), true
}

// Friction returns what the hose takes at a flow in m3/s, Pa: 0 without a hose.
// It may exceed what any pump gives, which tells that the hose is too thin.
// ok=false for a hose outside 0..10 km and 0.1..500 mm, or where the friction
// law refuses.
func (l Line) Friction(flowM3s float64, loss Friction) (frictionPa float64, ok bool) {
	if l.LengthM == 0 {
		return 0, true
	}
	if loss == nil || !within(l.LengthM, 0, 1e4) || !within(l.BoreM, 1e-4, 0.5) {
		return 0, false
	}
	pa, ok := loss(l.LengthM, l.BoreM, flowM3s)
	if !ok {
		return 0, false
	}
	return keep(pa, 0, math.MaxFloat64)
}
