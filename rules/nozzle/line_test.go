package nozzle_test

import "headroom/rules/nozzle"

// outletOf is the pressure in Pa gauge at the pump's outlet that drives a
// flow through hose and nozzle. ok=false above 200 MPa or where the friction
// law refuses.
func outletOf(l nozzle.Line, flowM3s float64, loss nozzle.Friction) (outletPa float64, ok bool) {
	drop, ok := nozzle.Drop(l.FactorM3sRootPa, flowM3s)
	if !ok {
		return 0, false
	}
	hose, ok := l.Friction(flowM3s, loss)
	if !ok {
		return 0, false
	}
	return drop + hose, drop+hose <= nozzle.MaxPressurePa
}
