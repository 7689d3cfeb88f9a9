// Package nozzle is what happens behind the pump: the law between flow and
// pressure of the orifices, what the high-pressure hose leaves for them, the
// thrust and power of the jets, and which hose and nozzle fit a line.
//
// It owns the judgement of nozzle and hose from the measured flow and outlet
// pressure: as expected, worn, blocked, hose burst or off, unloader dumping,
// or cannot tell. It is honest about what two numbers cannot separate: the
// answer carries every explanation that fits and the fact that would decide.
//
// It refuses smoothing, time and memory, which are the caller's, and pipe
// friction, which belongs to the hydraulics and comes in as a Friction or a
// coefficient. Nothing here is a safety device. Pressures are pascal gauge,
// flows m3/s, and nothing allocates.
package nozzle

import "math"

// The package's range. Beyond it every function refuses.
const (
	// MaxPressurePa is 200 MPa: above any jetting pump; the law for a liquid
	// of constant density is good to about 4 % of density there.
	MaxPressurePa = 2e8
	// MaxFlowM3s is 1 m3/s.
	MaxFlowM3s = 1.0
	// MinFlowM3s is 1e-8 m3/s, a drip: what counts as a flow at all.
	MinFlowM3s = 1e-8
	// MinDensityKgM3 and MaxDensityKgM3 hold water with or without antifreeze.
	MinDensityKgM3, MaxDensityKgM3 = 900.0, 1200.0
	// minFactor and maxFactor bound the nozzle factor in m3/s per root pascal:
	// from a pinhole of 0.02 mm to an open pipe of 150 mm.
	minFactor, maxFactor = 1e-12, 1e-3
)

// Friction gives the pressure a hose takes, in pascal, at a flow in m3/s, for a
// length and a bore in m. It must be pure and rise with the flow; ok=false says
// that the flow lies outside its range. The Darcy-Weisbach law of the
// hydraulics, with the water's density and viscosity bound, is meant.
type Friction func(lengthM, boreM, flowM3s float64) (lossPa float64, ok bool)

// within is false for NaN.
func within(x, lo, hi float64) bool { return x >= lo && x <= hi }

// keep returns x only inside lo..hi, so that no caller sees a refused number.
func keep(x, lo, hi float64) (float64, bool) {
	if !within(x, lo, hi) {
		return 0, false
	}
	return x, true
}

func densityOK(rho float64) bool { return within(rho, MinDensityKgM3, MaxDensityKgM3) }

// square is x*x rounded on its own, so that no compiler fuses it into a sum.
func square(x float64) float64 { return float64(x * x) }

// area of a round hole.
func area(diameterM float64) float64 { return math.Pi / 4 * square(diameterM) }
