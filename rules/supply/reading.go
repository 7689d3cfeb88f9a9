package supply

import "math"

// Reading is one flowing reading, steady and already smoothed by the caller.
type Reading struct {
	// FlowM3s is the flow in m3/s, range MinFlowM3s to MaxFlowM3s.
	FlowM3s float64
	// InletGaugePa is the gauge pressure at the pump inlet at that flow, Pa.
	InletGaugePa float64
}

// Tolerance is what the sensors can be off by, as limits of the same coverage
// (say all of 95 %). The first two are Pa, the last two fractions of the
// reading. Each lies in 0..5 MPa or 0..0.5.
type Tolerance struct {
	// PressureOffsetPa is common to all readings (zero error, calibration): it
	// cancels in a drop and acts only on the static and the wanted pressure.
	PressureOffsetPa float64
	// PressureRepeatPa is each reading's own (noise, resolution).
	PressureRepeatPa float64
	// FlowGain is common to all flows (K factor of the meter).
	FlowGain float64
	// FlowRepeat is each flow's own (noise, resolution).
	FlowRepeat float64
}

// Test is the supply test as measured.
type Test struct {
	// StaticGaugePa is the pressure at the pump inlet without any flow, Pa.
	StaticGaugePa float64
	// Flowing holds Count (1 or 2) flowing readings, in any order.
	Flowing [2]Reading
	Count   int
	// Tolerance of the sensors.
	Tolerance Tolerance
}

// pairPa is the tolerance of the difference of two pressure readings of one
// sensor: the offset cancels, the repeatability counts twice.
func (t Test) pairPa() float64 { return float64(math.Sqrt2 * t.Tolerance.PressureRepeatPa) }

// largest returns the index of the reading with the largest flow.
func (t Test) largest() int {
	if t.Count == 2 && t.Flowing[1].FlowM3s > t.Flowing[0].FlowM3s {
		return 1
	}
	return 0
}

// Check tells whether the readings can be used: OK, or the first
// contradiction found and what to repeat. Source: NFPA 291 asks for a static
// and a lower residual pressure; the rest is plain hydraulics, since no passive
// supply gives more pressure at more flow.
func (t Test) Check() (Status, Repeat) {
	if s, r := t.checkInput(); s != OK {
		return s, r
	}
	for i := 0; i < t.Count; i++ {
		if s, r := t.checkFlowing(i); s != OK {
			return s, r
		}
	}
	if t.Count == 2 {
		if s, r := t.checkPair(); s != OK {
			return s, r
		}
	}
	top := t.largest()
	if !(t.StaticGaugePa-t.Flowing[top].InletGaugePa > t.pairPa()) {
		return DropUnresolved, repeatOf(top) | MoreFlow
	}
	return OK, 0
}

// checkInput looks at each number alone.
func (t Test) checkInput() (Status, Repeat) {
	if t.Count != 1 && t.Count != 2 {
		return InputUnknown, RepeatStatic | RepeatFirst
	}
	if !finite(t.StaticGaugePa) {
		return InputUnknown, RepeatStatic
	}
	for i := 0; i < t.Count; i++ {
		if r := t.Flowing[i]; !finite(r.FlowM3s) || !finite(r.InletGaugePa) {
			return InputUnknown, repeatOf(i)
		}
	}
	tol := t.Tolerance
	if !within(tol.PressureOffsetPa, 0, MaxPressurePa) || !within(tol.PressureRepeatPa, 0, MaxPressurePa) ||
		!within(tol.FlowGain, 0, 0.5) || !within(tol.FlowRepeat, 0, 0.5) || t.StaticGaugePa > MaxPressurePa {
		return OutOfRange, 0
	}
	if t.StaticGaugePa <= tol.PressureOffsetPa+tol.PressureRepeatPa {
		return StaticNotPositive, RepeatStatic
	}
	return OK, 0
}

// checkFlowing looks at flowing reading i against the static one.
func (t Test) checkFlowing(i int) (Status, Repeat) {
	r := t.Flowing[i]
	switch {
	case r.FlowM3s <= 0:
		return FlowNotPositive, repeatOf(i)
	case !within(r.FlowM3s, MinFlowM3s, MaxFlowM3s):
		return OutOfRange, repeatOf(i)
	case r.InletGaugePa > t.StaticGaugePa+t.pairPa():
		return FlowingAboveStatic, RepeatStatic | repeatOf(i)
	case r.InletGaugePa < -(t.Tolerance.PressureOffsetPa + t.Tolerance.PressureRepeatPa):
		return FlowingBelowZero, repeatOf(i) | LessFlow
	}
	return OK, 0
}

// checkPair looks at the two flowing readings against each other.
func (t Test) checkPair() (Status, Repeat) {
	hi := t.largest()
	a, b := t.Flowing[1-hi], t.Flowing[hi]
	apart := (b.FlowM3s - a.FlowM3s) / b.FlowM3s
	same := float64(math.Sqrt2 * t.Tolerance.FlowRepeat)
	if apart > same {
		if b.InletGaugePa > a.InletGaugePa+t.pairPa() {
			return PressureRisesWithFlow, RepeatFirst | RepeatSecond
		}
		return OK, 0
	}
	// The same flow within tolerance: a drop that goes with the square of the
	// flow may differ by twice the flow's relative tolerance.
	drop := t.StaticGaugePa - math.Min(a.InletGaugePa, b.InletGaugePa)
	allowed := t.pairPa() + float64(2*drop*math.Max(apart, same))
	if math.Abs(a.InletGaugePa-b.InletGaugePa) > allowed {
		return ReadingsDisagree, RepeatFirst | RepeatSecond
	}
	return OK, 0
}

func repeatOf(i int) Repeat {
	if i == 1 {
		return RepeatSecond
	}
	return RepeatFirst
}
