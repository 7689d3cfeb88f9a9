package nozzle

import "math"

// Left returns the pressure in Pa gauge that is left at the nozzle when the
// pump's outlet has outletPa and the hose takes frictionPa. ok=false when the
// hose would take more than there is. Source: energy balance; height and the
// speed in the hose are left out.
func Left(outletPa, frictionPa float64) (nozzlePa float64, ok bool) {
	if !within(outletPa, 0, MaxPressurePa) || !within(frictionPa, 0, MaxPressurePa) {
		return 0, false
	}
	return keep(outletPa-frictionPa, 0, MaxPressurePa)
}

// Line is a high-pressure hose with a nozzle at its end.
type Line struct {
	// LengthM and BoreM of the hose in m; LengthM 0 is no hose.
	LengthM, BoreM float64
	// FactorM3sRootPa is the nozzle's factor, m3/s per root pascal.
	FactorM3sRootPa float64
}

// Outlet returns the pressure in Pa gauge at the pump's outlet that drives a
// flow through hose and nozzle. ok=false above 200 MPa or where the friction
// law refuses.
func (l Line) Outlet(flowM3s float64, loss Friction) (outletPa float64, ok bool) {
	drop, ok := Drop(l.FactorM3sRootPa, flowM3s)
	if !ok {
		return 0, false
	}
	hose, ok := l.Friction(flowM3s, loss)
	if !ok {
		return 0, false
	}
	return keep(drop+hose, 0, MaxPressurePa)
}

// Flow is the inverse of Outlet: the flow in m3/s at a pressure of the pump's
// outlet, by halving the interval since the pressure rises with the flow.
func (l Line) Flow(outletPa float64, loss Friction) (flowM3s float64, ok bool) {
	hi, ok := Flow(l.FactorM3sRootPa, outletPa) // without a hose it is at most this
	if !ok {
		return 0, false
	}
	lo := 0.0
	for i := 0; i < 80; i++ {
		mid := lo + float64((hi-lo)/2)
		// The lower half may be laminar, the upper half beyond the friction
		// law's range; only a refusal at the answer itself counts.
		p, ok := l.Outlet(mid, loss)
		if ok && p < outletPa {
			lo = mid
		} else {
			hi = mid
		}
	}
	p, ok := l.Outlet(lo, loss)
	if !ok || math.Abs(p-outletPa) > float64(1e-6*outletPa) {
		return 0, false
	}
	return lo, true
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
