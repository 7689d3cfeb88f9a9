// Package heat says how fast a pump warms its water and how long that may go
// on: in the bypass loop when the trigger is shut, across the pump, across a
// throttle; and, the other way, how long a standing pump has until it freezes.
//
// It owns energy balances of first order: one well-mixed body of water, with
// the heat capacity of the metal that warms with it, one source of power, one
// flow of fresh supply. It refuses anything finer: no temperature field, no
// loss to the air in the loop (so the loop warms somewhat slower than
// computed, the safe direction), no latent heat. It also refuses to answer on
// an input that is missing or out of range: those give ok=false or the status
// Unknown, the zero value of every status here, and never a number.
//
// Inputs are NaN-proof and bounded, so that no result overflows: temperatures
// 200 to 500 K, pressures 0 to 500 MPa, flow 0 to 1 m3/s, power 0 to 1 MW, mass
// above 0 to 1e5 kg, heat capacities above 0 to 1e5 J/(kg K), densities 100 to
// 2000 kg/m3. An aid to judgement and no safety device.
//
// Sources: the first law for steady and mixed flow, in any textbook of
// thermodynamics; the numbers each function was compared with are in checks.go.
package heat

// The bounds of the inputs, as the package comment lists them.
const (
	minTempK, maxTempK     = 200, 500
	maxPa                  = 5e8
	maxFlowM3s             = 1
	maxPowerW              = 1e6
	maxMassKg              = 1e5
	maxHeatJKgK            = 1e5
	minDensity, maxDensity = 100, 2000
	maxMetalJK             = 1e8
	maxMassFlowKgs         = 1e3
)

// within reports lo <= x <= hi; false for NaN.
func within(x, lo, hi float64) bool { return x >= lo && x <= hi }

// upTo reports 0 < x <= hi; false for NaN.
func upTo(x, hi float64) bool { return x > 0 && x <= hi }

// isTemp reports a temperature in kelvin that this package answers for.
func isTemp(k float64) bool { return within(k, minTempK, maxTempK) }
