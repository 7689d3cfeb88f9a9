package heat

import "headroom/rules/water"

// HydraulicPowerW returns the power in watts that a flow in m3/s carries at a
// pressure difference in pascal. In a bypass loop all of it stays as heat,
// since the water comes back to the inlet at inlet pressure and rest.
// Range: flow 0 to 1 m3/s, pressure difference 0 to 500 MPa.
// Source: P = Q dp, any textbook of fluid mechanics.
func HydraulicPowerW(flowM3s, dropPa float64) (w float64, ok bool) {
	if !within(flowM3s, 0, maxFlowM3s) || !within(dropPa, 0, maxPa) {
		return 0, false
	}
	return float64(flowM3s * dropPa), true
}

// ShaftPowerW returns the shaft power in watts of a pump that gives hydraulicW
// at an overall efficiency above 0.01 and up to 1. Range of the result and of
// hydraulicW: 0 to 1 MW.
// Source: definition of pump efficiency.
func ShaftPowerW(hydraulicW, efficiency float64) (w float64, ok bool) {
	if !within(hydraulicW, 0, maxPowerW) || !within(efficiency, 0.01, 1) {
		return 0, false
	}
	if w = hydraulicW / efficiency; w > maxPowerW {
		return 0, false
	}
	return w, true
}

// PumpRiseK returns by how many kelvin a pump of the given efficiency (0.01 to
// 1) warms the water on its one way through, if all losses end in the water:
// dT = dp (1/eta - 1)/(rho c). One printed source shows a division by
// (1/eta - 1) in its formula and multiplies in its example; the product is
// right. The warming by the compression itself, see ThrottleRiseK, is left out
// as in the textbook formula.
// Range: dropPa 0 to 500 MPa, density 100 to 2000 kg/m3, heat capacity up to
// 1e5 J/(kg K).
// Source: pump handbooks, temperature rise of a pump.
func PumpRiseK(dropPa, efficiency, densityKgM3, heatJKgK float64) (k float64, ok bool) {
	rise, ok := IncompressibleThrottleRiseK(dropPa, densityKgM3, heatJKgK)
	if !ok || !within(efficiency, 0.01, 1) {
		return 0, false
	}
	return float64(rise * (1/efficiency - 1)), true
}

// PumpRiseFromPowerK returns the same from the power lost in the pump, in
// watts, and the mass flow in kg/s: dT = P_lost/(m c). Range: lossW 0 to 1 MW,
// massFlowKgs 1e-6 to 1000 kg/s; result up to 300 K, since beyond it the water
// has long been steam.
// Source: first law for steady flow.
func PumpRiseFromPowerK(lossW, massFlowKgs, heatJKgK float64) (k float64, ok bool) {
	if !within(lossW, 0, maxPowerW) || !within(massFlowKgs, 1e-6, maxMassFlowKgs) || !upTo(heatJKgK, maxHeatJKgK) {
		return 0, false
	}
	if k = lossW / massFlowKgs / heatJKgK; k > maxTempK-minTempK {
		return 0, false
	}
	return k, true
}

// IncompressibleThrottleRiseK returns by how many kelvin water warms when
// dropPa is throttled away with no work done and no heat lost, for a liquid
// that doesn't expand: dT = dp/(rho c). Ranges as in PumpRiseK; a result above
// 300 K is refused.
// Source: first law for steady flow; pump handbooks.
func IncompressibleThrottleRiseK(dropPa, densityKgM3, heatJKgK float64) (k float64, ok bool) {
	if !within(dropPa, 0, maxPa) || !within(densityKgM3, minDensity, maxDensity) || !upTo(heatJKgK, maxHeatJKgK) {
		return 0, false
	}
	if k = dropPa / densityKgM3 / heatJKgK; k > maxTempK-minTempK {
		return 0, false
	}
	return k, true
}

// ThrottleRiseK returns the same for real water, at constant enthalpy from
// inAbsPa down to outAbsPa (absolute pascal) starting at tempK (kelvin). It is
// less than the incompressible figure, by some 6 % at 20 C and 17 % at 60 C,
// since water that expands with heat cools as its pressure falls; below 4 C it
// is more. Range: that of water.Props
// before and behind the throttle, and outAbsPa <= inAbsPa; if the water behind
// it would boil, ok is false.
// It costs some microseconds: for reports, and not for every tick.
// Source: h = const, IAPWS R7-97(2012) region 1.
func ThrottleRiseK(tempK, inAbsPa, outAbsPa float64) (k float64, ok bool) {
	h, ok := water.EnthalpyJKg(tempK, inAbsPa)
	if !ok || !(outAbsPa <= inAbsPa) {
		return 0, false
	}
	// Newton's method on the enthalpy; the heat capacity is its slope and
	// hardly changes over some kelvin, so that three steps end in rounding.
	t := tempK
	for range 3 {
		p, ok := water.Props(t, outAbsPa)
		if !ok {
			return 0, false
		}
		t += (h - p.EnthalpyJKg) / p.SpecificHeatJKgK
	}
	if _, ok := water.EnthalpyJKg(t, outAbsPa); !ok {
		return 0, false
	}
	return t - tempK, true
}
