package cavitation

import "math"

// IdealFlowM3s returns the flow in m3/s that a sound pump gives: displacement
// in m3 per turn (above 0 to 1), speed in rev/s (0 to 200) and volumetric
// efficiency (above 0 to 1); otherwise ok is false. Source: definition of the
// volumetric efficiency.
func IdealFlowM3s(displacementM3, speedHz, volumetricEfficiency float64) (flowM3s float64, ok bool) {
	if !(displacementM3 > 0 && displacementM3 <= 1) || !between(speedHz, 0, 200) ||
		!(volumetricEfficiency > 0 && volumetricEfficiency <= 1) {
		return 0, false
	}
	return displacementM3 * speedHz * volumetricEfficiency, true
}

// Shortfall returns the share of an expected value that is missing: 0 where
// all is there, 1 where nothing is, below 0 where there is more. Range: both
// finite, expected above 0, measured 0 or more and at most 11 times expected;
// otherwise ok is false. Source: definition.
func Shortfall(expected, measured float64) (share float64, ok bool) {
	if !(expected > 0) || !(measured >= 0) || math.IsInf(expected, 1) {
		return 0, false
	}
	s := 1 - measured/expected
	low, high := FlowDeficit.bounds()
	if !between(s, low, high) {
		return 0, false
	}
	return s, true
}

// Rise returns how many times its own baseline a value is. Range: value 0 or
// more, baseline above 0, both finite, the result at most 10000; otherwise ok
// is false. Source: definition.
func Rise(value, baseline float64) (ratio float64, ok bool) {
	if !(value >= 0) || !(baseline > 0) || math.IsInf(baseline, 1) {
		return 0, false
	}
	q := value / baseline
	low, high := VibrationRise.bounds()
	if !between(q, low, high) {
		return 0, false
	}
	return q, true
}
