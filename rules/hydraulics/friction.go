package hydraulics

import (
	"math"

	"headroom/rules/detmath"
)

// Regime is the kind of flow in a line.
type Regime uint8

// The regimes. The zero value means that nothing is known.
const (
	// NoRegime is the regime of a question that was refused.
	NoRegime Regime = iota
	// Laminar flow is smooth and its loss goes with the flow.
	Laminar
	// Transition flow wavers between the two; its loss is an interpolation
	// and the least certain of all.
	Transition
	// Turbulent flow loses pressure with about the square of the flow.
	Turbulent
)

// String returns the regime's name.
func (r Regime) String() string {
	switch r {
	case Laminar:
		return "laminar"
	case Transition:
		return "transition"
	case Turbulent:
		return "turbulent"
	}
	return "unknown"
}

// newtonSteps is enough for the last bits of a float64 over the whole Moody
// chart: the equation is concave, so that Newton's method closes in from one
// side and doubles its digits each step. Over the chart three steps leave a
// residual of 6e-11, four one of rounding alone, and the fifth is to spare.
const newtonSteps = 5

// log10E is log10(e), which turns a natural logarithm into a common one.
const log10E = 0.434294481903251827651128918917

// LaminarFriction returns the Darcy friction factor of laminar flow, 64/Re.
// Range: Re above 0 up to LaminarMaxRe; otherwise ok is false. Source:
// Hagen-Poiseuille.
func LaminarFriction(re float64) (f float64, ok bool) {
	if !positive(re) || re > LaminarMaxRe {
		return 0, false
	}
	f = 64 / re
	return keep(f, positive(f))
}

// TurbulentFriction returns the Darcy friction factor by Colebrook and White.
// Range: Re from TurbulentMinRe to MaxRe, relative roughness from 0 to
// MaxRelRoughness; otherwise ok is false. The equation is solved to the last
// bits in a fixed number of steps, so that every machine gives the same
// answer; the formula itself is good to about 10 to 15 percent of real pipes.
// Source: Colebrook, Journal of the Institution of Civil Engineers 11 (1939);
// the accuracy by White, Fluid Mechanics, from memory.
func TurbulentFriction(re, relRoughness float64) (f float64, ok bool) {
	if !(re >= TurbulentMinRe && re <= MaxRe) || !roughnessValid(relRoughness) {
		return 0, false
	}
	return colebrook(re, relRoughness), true
}

// colebrook solves x + 2 log10(a + b x) = 0 for x = 1/sqrt(f) by Newton.
func colebrook(re, relRoughness float64) float64 {
	a, b := relRoughness/3.7, 2.51/re
	x := 5.0
	for range newtonSteps {
		arg := a + float64(b*x)
		residual := x + float64(2*log10E*detmath.Log(arg))
		slope := 1 + float64(2*log10E*b)/arg
		x -= residual / slope
	}
	return 1 / (x * x)
}

// Friction returns the Darcy friction factor and the regime over the whole
// chart. Between LaminarMaxRe and TurbulentMinRe no formula holds, since the
// flow is neither; there the factor is a straight line in Re from the laminar
// value at the one end to the Colebrook-White value at the other. The line
// rises, so that the loss grows with the flow without a jump or a dip, which
// an inverse and an alarm both need. Range: Re above 0 up to MaxRe, relative
// roughness from 0 to MaxRelRoughness; otherwise ok is false. Source: as the
// two formulas; the line is a choice of this project.
func Friction(re, relRoughness float64) (f float64, regime Regime, ok bool) {
	if !positive(re) || re > MaxRe || !roughnessValid(relRoughness) {
		return 0, NoRegime, false
	}
	switch {
	case re <= LaminarMaxRe:
		f, ok = LaminarFriction(re)
		if !ok {
			return 0, NoRegime, false
		}
		return f, Laminar, true
	case re >= TurbulentMinRe:
		return colebrook(re, relRoughness), Turbulent, true
	}
	const low = 64 / LaminarMaxRe
	high := colebrook(TurbulentMinRe, relRoughness)
	share := (re - LaminarMaxRe) / (TurbulentMinRe - LaminarMaxRe)
	return low + float64(share*(high-low)), Transition, true
}

// roughnessValid says whether a relative roughness stands on the chart.
func roughnessValid(rel float64) bool {
	return !math.IsNaN(rel) && rel >= 0 && rel <= MaxRelRoughness
}
