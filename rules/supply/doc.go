// Package supply is the test of the water supply before the start: a static
// pressure and one or two flowing readings at the pump inlet tell how much
// water somebody else's tap and the hose can give.
//
// It owns the two curves drawn through those readings (the 0.54 power law of
// hydrant flow testing and the quadratic of a hose and a tap), the most flow
// at a wanted inlet pressure by both, their difference as an honest spread,
// the propagated tolerance of the sensors, the verdict for one pump and
// nozzle, and what would help, each help evaluated with its predicted numbers.
//
// It refuses readings that contradict each other: the answer is then a status
// that names what to repeat, and no number. It computes no pipe friction of its
// own, since that belongs to the hydraulics; the caller hands in a Friction. It
// holds no prose, no clock and no memory, and allocates nothing. Pressures are
// pascal gauge at the pump inlet, flows m3/s.
package supply

import "math"

// The package's range. Beyond it every function refuses.
const (
	// MaxPressurePa is the largest gauge pressure taken, 5 MPa: far above any
	// tap and still inside what a pressure sensor for a supply can read.
	MaxPressurePa = 5e6
	// MaxFlowM3s is the largest flow taken, 1 m3/s: above any hydrant.
	MaxFlowM3s = 1.0
	// MinFlowM3s is the smallest flow taken for a flowing reading, 1e-7 m3/s:
	// a drip, below what any flow meter of the job reads.
	MinFlowM3s = 1e-7
	// vacuumPa is the gauge pressure of an empty space at sea level. No
	// predicted inlet pressure may lie below it.
	vacuumPa = -101325.0
)

// Friction gives the pressure a hose takes, in pascal, at a flow in m3/s, for a
// length and a bore in m. It must be pure and rise with the flow; ok=false says
// that the flow lies outside its range. The Darcy-Weisbach law of the
// hydraulics, with the water's density and viscosity bound, is meant.
type Friction func(lengthM, boreM, flowM3s float64) (lossPa float64, ok bool)

// within is false for NaN, which plain comparisons of the negated form are not.
func within(x, lo, hi float64) bool { return x >= lo && x <= hi }

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
