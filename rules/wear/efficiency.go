package wear

import "math"

// MaxEfficiency is the highest volumetric efficiency taken for a reading. Above
// 1 by a few hundredths is the error of flow meter and displacement; more
// means that one of them, or the speed, is wrong.
const MaxEfficiency = 1.1

// DisplacementM3 returns the displacement of a single-acting plunger pump in
// m3 per revolution, from plunger diameter and stroke in metres (above 0 to 1)
// and the number of plungers (1 to 12).
// Source: geometry, pi/4 d^2 s n.
func DisplacementM3(diameterM, strokeM float64, plungers int) (m3 float64, ok bool) {
	if !upTo(diameterM, 1) || !upTo(strokeM, 1) || plungers < 1 || plungers > maxPlungers {
		return 0, false
	}
	m3 = float64(math.Pi / 4 * diameterM * diameterM * strokeM * float64(plungers))
	if !upTo(m3, maxDispM3) {
		return 0, false
	}
	return m3, true
}

// VolumetricEfficiency returns delivered flow over swept flow, from the flow
// in m3/s (0 to 1), the displacement in m3 per revolution (above 0 to 0.1) and
// the crankshaft's speed in rev/s (0.1 to 200). A result above MaxEfficiency
// is refused. Measured at the inlet it doesn't see what leaks out past the
// packing to the ground: that water has passed the meter.
// Source: definition, eta_v = Q/(D n).
func VolumetricEfficiency(flowM3s, displacementM3, speedHz float64) (eff float64, ok bool) {
	swept, ok := sweptM3s(displacementM3, speedHz)
	if !ok || !within(flowM3s, 0, maxFlowM3s) {
		return 0, false
	}
	if eff = flowM3s / swept; !(eff <= MaxEfficiency) {
		return 0, false
	}
	return eff, true
}

// SlipM3s returns the slip, the part of the swept flow that isn't delivered,
// in m3/s: leak-by at valves and packing, and what late valves give back. It
// is refused where VolumetricEfficiency is; meter error can make it slightly
// negative.
// Source: definition, Q_slip = D n - Q.
func SlipM3s(flowM3s, displacementM3, speedHz float64) (slip float64, ok bool) {
	if _, ok := VolumetricEfficiency(flowM3s, displacementM3, speedHz); !ok {
		return 0, false
	}
	return float64(displacementM3*speedHz) - flowM3s, true
}

// sweptM3s is the flow of a pump without slip.
func sweptM3s(displacementM3, speedHz float64) (float64, bool) {
	if !within(displacementM3, 1e-9, maxDispM3) || !within(speedHz, 0.1, maxSpeedHz) {
		return 0, false
	}
	return float64(displacementM3 * speedHz), true
}
