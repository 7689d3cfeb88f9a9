// Package thermal is the first-order thermal image that the breaker's and the
// motor's models share: a body heated by the square of the current and cooled
// by its surroundings, with one time constant.
//
// It owns two closed forms, the advance over a time step at constant heating
// and the time until a level is crossed. Both are exact for a constant
// current, so that the memory doesn't depend on how a span is cut into ticks.
// It refuses anything about currents, ratings or standards; temperatures here
// are plain numbers relative to a body that carries its rated current.
package thermal

import (
	"math"

	"headroom/rules/detmath"
)

// The ranges that the functions accept. They are far wider than any breaker or
// motor and only keep nonsense out.
const (
	// MaxTheta is the highest relative temperature rise, dimensionless.
	MaxTheta = 1e6
	// MaxStepS is the longest step in seconds: one day.
	MaxStepS = 86400.0
	// MinTauS and MaxTauS bound the time constant in seconds.
	MinTauS = 1e-3
	MaxTauS = 1e6
)

// Step returns the relative temperature rise after dtS seconds in which the
// steady state would be target: theta + (target-theta)(1-exp(-dtS/tauS)).
// Range: theta and target 0 to MaxTheta, dtS 0 to MaxStepS, tauS MinTauS to
// MaxTauS; anything else gives ok=false. The result never passes target, not
// even by rounding, so that a load held at a level can't creep beyond it.
// Source: lumped heat capacity with Newton's law of cooling, any text on heat
// transfer; the same law as IEC 60255-149.
func Step(theta, target, dtS, tauS float64) (float64, bool) {
	if !inRange(theta, 0, MaxTheta) || !inRange(target, 0, MaxTheta) ||
		!inRange(dtS, 0, MaxStepS) || !inRange(tauS, MinTauS, MaxTauS) {
		return 0, false
	}
	share := 1 - detmath.Exp(-dtS/tauS)
	next := theta + float64((target-theta)*share)
	lo, hi := math.Min(theta, target), math.Max(theta, target)
	return math.Min(math.Max(next, lo), hi), true
}

// TimeTo returns the seconds until the relative temperature rise goes from
// theta through level while the steady state is target:
// tauS ln((target-theta)/(target-level)). It serves heating and cooling.
// Range: as for Step. ok=false means the level is never crossed, or an input
// out of range; a level that theta already has takes 0 s.
// Source: Step solved for the time.
func TimeTo(theta, target, level, tauS float64) (float64, bool) {
	if !inRange(theta, 0, MaxTheta) || !inRange(target, 0, MaxTheta) ||
		!inRange(level, 0, MaxTheta) || !inRange(tauS, MinTauS, MaxTauS) {
		return 0, false
	}
	if theta == level {
		return 0, true
	}
	heats := theta < level && level < target
	cools := theta > level && level > target
	if !heats && !cools {
		return 0, false
	}
	t := float64(tauS * detmath.Log((target-theta)/(target-level)))
	// Where theta and level differ in the last bit only, the quotient may
	// round below 1.
	return math.Max(t, 0), true
}

// inRange reports lo <= x <= hi; NaN is never in range.
func inRange(x, lo, hi float64) bool { return x >= lo && x <= hi }
