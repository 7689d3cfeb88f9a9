// Package hydraulics computes what a hose or pipe costs in pressure: Reynolds
// number, friction factor, the loss by friction and by fittings, and the flow
// that a given loss allows.
//
// It owns the steady flow of one liquid through one round, full, straight line
// of one bore; lines in series are added by the caller. Density and viscosity
// are arguments, so that it knows no liquid and depends on no other package.
// It refuses what it cannot know: flow with air in it, a collapsed or kinked
// hose, water hammer, and every input outside the stated ranges, for which it
// answers ok=false instead of an extrapolated number.
//
// A real hose differs from its nominal bore by several percent and the loss
// goes with about the fifth power of the bore, so a computed loss is good to
// perhaps 20 percent until it has been measured once on the hose at hand.
package hydraulics

import "math"

// Limits of the friction formulas. Outside them functions answer ok=false.
const (
	// LaminarMaxRe is the Reynolds number up to which flow in a pipe is
	// laminar. Source: White, Fluid Mechanics, chapter 6 (2300), quoted from
	// memory.
	LaminarMaxRe = 2300.0
	// TurbulentMinRe is the Reynolds number from which the Colebrook-White
	// formula is used. Source: the turbulent branch of the Moody chart starts
	// at 4000.
	TurbulentMinRe = 4000.0
	// MaxRe is the right edge of the Moody chart.
	MaxRe = 1e8
	// MaxRelRoughness is the roughest line of the Moody chart.
	MaxRelRoughness = 0.05
)

// Water is the state of the liquid in a line.
type Water struct {
	// DensityKgM3 is the density in kg/m3, above 0.
	DensityKgM3 float64
	// ViscosityPaS is the dynamic viscosity in Pa s, above 0.
	ViscosityPaS float64
}

// Pipe is one straight line of one bore with its fittings.
type Pipe struct {
	// LengthM is the length in m, 0 or more.
	LengthM float64
	// BoreM is the inside diameter in m, above 0.
	BoreM float64
	// RoughnessM is the equivalent sand roughness in m, 0 for a smooth wall
	// and at most MaxRelRoughness of the bore.
	RoughnessM float64
	// MinorK is the sum of the loss coefficients of the fittings, 0 or more,
	// each referred to the velocity in this bore.
	MinorK float64
}

// valid says whether every field stands in its range.
func (p Pipe) valid() bool {
	return notNegative(p.LengthM) && positive(p.BoreM) && notNegative(p.RoughnessM) &&
		notNegative(p.MinorK) && p.RoughnessM/p.BoreM <= MaxRelRoughness
}

// valid says whether both properties are positive and finite.
func (w Water) valid() bool { return positive(w.DensityKgM3) && positive(w.ViscosityPaS) }

// AreaM2 returns the open area in m2 of a round bore in m. Range: a bore above
// 0 whose area is a float64; otherwise ok is false. Source: geometry.
func AreaM2(boreM float64) (areaM2 float64, ok bool) {
	if !positive(boreM) {
		return 0, false
	}
	a := math.Pi / 4 * boreM * boreM
	return keep(a, positive(a))
}

// VelocityMS returns the mean velocity in m/s of a flow in m3/s through a
// round bore in m. Range: flow 0 or more, bore above 0; otherwise ok is false.
// Source: continuity.
func VelocityMS(flowM3s, boreM float64) (velocityMS float64, ok bool) {
	area, ok := AreaM2(boreM)
	if !ok || !notNegative(flowM3s) {
		return 0, false
	}
	v := flowM3s / area
	return keep(v, notNegative(v))
}

// Reynolds returns the Reynolds number of a mean velocity in m/s through a
// round bore in m. Range: velocity 0 or more, the others above 0 and the
// result finite; otherwise ok is false. Source: the definition, rho V D / mu.
func Reynolds(velocityMS, boreM float64, w Water) (re float64, ok bool) {
	if !notNegative(velocityMS) || !positive(boreM) || !w.valid() {
		return 0, false
	}
	re = w.DensityKgM3 * velocityMS * boreM / w.ViscosityPaS
	return keep(re, notNegative(re))
}

// positive says whether x is a finite number above 0.
func positive(x float64) bool { return x > 0 && !math.IsInf(x, 1) }

// notNegative says whether x is a finite number of 0 or more.
func notNegative(x float64) bool { return x >= 0 && !math.IsInf(x, 1) }

// keep returns x where ok holds and 0 where it doesn't, so that no caller who
// forgets ok works on with a number that looks real.
func keep(x float64, ok bool) (float64, bool) {
	if !ok {
		return 0, false
	}
	return x, true
}
