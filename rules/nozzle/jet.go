package nozzle

import "math"

// JetVelocity returns the speed of a jet in m/s without losses,
// sqrt(2 dp / rho); a real jet is a few percent slower. Range: 0..200 MPa and
// 900..1200 kg/m3. Source: Bernoulli (Torricelli).
func JetVelocity(dropPa, densityKgM3 float64) (velocityMS float64, ok bool) {
	if !within(dropPa, 0, MaxPressurePa) || !densityOK(densityKgM3) {
		return 0, false
	}
	return math.Sqrt(2 * dropPa / densityKgM3), true
}

// Power returns the hydraulic power in W of a flow in m3/s at a pressure in Pa:
// Q dp. Range: 0..1 m3/s, 0..200 MPa. Source: work per time; gpm psi / 1714 is
// the same in horsepower.
func Power(flowM3s, dropPa float64) (powerW float64, ok bool) {
	if !within(flowM3s, 0, MaxFlowM3s) || !within(dropPa, 0, MaxPressurePa) {
		return 0, false
	}
	return flowM3s * dropPa, true
}
