package unloader

import "math"

// The current of a single-phase motor has an active part, in phase with the
// voltage, which carries the power, and a reactive part, which magnetises it:
//
//	I = sqrt(m^2 + a^2)                                         (1)
//
// With the shaft speed nearly constant, the active part grows in a straight
// line with the pressure share r, from b without pressure to a1 now, and m stays:
//
//	a(r) = b + (a1 - b) r                                       (2)
//
// The measured efficiency eta gives a1 = Ph/(eta V), the present current then
// gives m by (1), and the no-load current gives b by (1). Where the no-load
// current is below m, b is taken as 0 and the prediction stays high.
//
// Without the efficiency the line through the two currents serves:
//
//	I(r) = I0 + s p1 r                                          (3)
//
// The curve (1) with (2) is convex and ends in the same two points, so the line
// lies above it in between: the line never advises too high a pressure.
//
// A lower current also loses less voltage in the cord, which lowers it further;
// that is left out and lies on the safe side too.

// curve is the current against the pressure share: sqrt(m2 + (b + d r)^2).
// The line (3) is the case m2 = 0.
type curve struct{ m2, b, d float64 }

// slackPF is by how much the active current may exceed the current before the
// readings count as contradictory: two sensors of 1 % each.
// Common practice, no source.
const slackPF = 1.02

// curve builds the method's curve; ok=false where the readings contradict.
func (in Input) curve() (curve, bool) {
	if in.NoLoadA >= in.NowA {
		return curve{}, false
	}
	if in.Method == ByLine {
		d := math.Max(in.NowA-in.NoLoadA, float64(in.SlopeAPerPa*in.PumpPa))
		return curve{b: in.NoLoadA, d: d}, true
	}
	active := in.HydraulicW / float64(in.Efficiency*in.SupplyV)
	if active > float64(slackPF*in.NowA) {
		return curve{}, false
	}
	active = math.Min(active, in.NowA)
	now2 := float64(in.NowA * in.NowA)
	m2 := math.Max(0, now2-float64(active*active))
	b := math.Sqrt(math.Max(0, float64(in.NoLoadA*in.NoLoadA)-m2))
	return curve{m2: m2, b: b, d: active - b}, active > b
}

// current predicts the current in amperes at a share of the present pressure.
func (c curve) current(share float64) float64 {
	a := c.b + float64(c.d*share)
	if c.m2 == 0 {
		return a
	}
	return math.Sqrt(c.m2 + float64(a*a))
}

// share inverts current for a current above current(0).
func (c curve) share(currentA float64) float64 {
	active := math.Sqrt(math.Max(0, float64(currentA*currentA)-c.m2))
	return (active - c.b) / c.d
}
