package supply

import "math"

// weakDropFraction is the least residual drop, as a fraction of the static
// pressure, that NFPA 291 4.4.6 asks of a flow test.
const weakDropFraction = 0.10

// Estimate is one curve's answer.
type Estimate struct {
	// Value in the unit of the quantity (m3/s or Pa gauge) and Tol, the
	// sensors' tolerance carried through to it.
	Value, Tol float64
	// OK is false when the curve has no answer in the package's range, TolOK
	// when the tolerance could not be carried through.
	OK, TolOK bool
}

// Span is a quantity by both curves.
type Span struct {
	// Power is by the 0.54 power law, Square by the quadratic.
	Power, Square Estimate
	// Spread is the difference of the two curves (>= 0): what the choice of
	// the curve alone leaves open.
	Spread float64
	// Low and High hold the lower curve less its tolerance and the higher one
	// plus its tolerance.
	Low, High float64
	// OK is false when a curve has no answer; the numbers are then 0. TolOK is
	// false when a tolerance is unknown; Low and High then hold the curves only.
	OK, TolOK bool
}

// Result is what a supply test tells by itself.
type Result struct {
	// Status OK or why not; Repeat names what to take again.
	Status Status
	Repeat Repeat
	Flags  Flags
	// Flow is the most flow at the wanted inlet pressure, m3/s.
	Flow Span
	// DropFraction is the drop at the largest tested flow as a fraction of the
	// static pressure; TestedM3s is that flow.
	DropFraction, TestedM3s float64
	// Exponent is fitted where two flowing readings allow.
	Exponent Exponent
	// Fit is the quadratic and MisfitPa its largest distance from a reading, Pa.
	Fit      Quadratic
	MisfitPa float64
}

// Evaluate gives the most flow a supply can give at a wanted inlet pressure
// (Pa gauge, range 0..5 MPa) by both curves, with spread and tolerance. When
// Status isn't OK, no number of the result may be used.
func Evaluate(t Test, wantedGaugePa float64) Result {
	if !finite(wantedGaugePa) {
		return Result{}
	}
	status, repeat := t.Check()
	if status != OK {
		return Result{Status: status, Repeat: repeat}
	}
	fit, ok := t.fit()
	if !ok {
		return Result{Status: PressureRisesWithFlow, Repeat: RepeatFirst | RepeatSecond}
	}
	flow := t.span(flowAtPressure, wantedGaugePa)
	if !within(wantedGaugePa, 0, MaxPressurePa) || !flow.OK {
		return Result{Status: OutOfRange}
	}
	flow.Low = math.Max(flow.Low, 0)
	top := t.Flowing[t.largest()]
	r := Result{Status: OK, Flow: flow, Fit: fit, Exponent: FitExponent(t),
		DropFraction: (t.StaticGaugePa - top.InletGaugePa) / t.StaticGaugePa, TestedM3s: top.FlowM3s,
		MisfitPa: t.misfit(fit)}
	r.Flags = t.flags(r, wantedGaugePa)
	return r
}

// span computes a quantity by both curves with their tolerances.
func (t Test) span(q quantity, at float64) Span {
	p, s := t.estimate(q, PowerLaw, at), t.estimate(q, Square, at)
	if !p.OK || !s.OK {
		return Span{}
	}
	return Span{Power: p, Square: s, Spread: math.Abs(p.Value - s.Value),
		Low:  math.Min(p.Value-p.Tol, s.Value-s.Tol),
		High: math.Max(p.Value+p.Tol, s.Value+s.Tol),
		OK:   true, TolOK: p.TolOK && s.TolOK}
}

func (t Test) estimate(q quantity, m Method, at float64) Estimate {
	v, ok := q.of(t, m, at)
	if !ok {
		return Estimate{}
	}
	tol, tolOK := t.spread(q, m, at)
	return Estimate{Value: v, Tol: tol, OK: true, TolOK: tolOK}
}

// misfit is the largest distance of the quadratic from a reading.
func (t Test) misfit(c Quadratic) float64 {
	worst := math.Abs(t.StaticGaugePa - c.P0Pa)
	for i := 0; i < t.Count; i++ {
		q := t.Flowing[i].FlowM3s
		p := c.P0Pa - float64(c.K*float64(q*q))
		worst = math.Max(worst, math.Abs(t.Flowing[i].InletGaugePa-p))
	}
	return worst
}

func (t Test) flags(r Result, wantedPa float64) Flags {
	var f Flags
	set := func(on bool, flag Flags) {
		if on {
			f |= flag
		}
	}
	tol := t.Tolerance
	set(r.DropFraction < weakDropFraction, WeakDrop)
	set(r.Flow.High > r.TestedM3s, Extrapolated)
	set(t.Count == 2 && !r.Exponent.Known, FlowsTooClose)
	set(r.Exponent.Odd, ExponentOdd)
	set(!r.Flow.TolOK, UncertaintyUnknown)
	set(tol.PressureOffsetPa+tol.PressureRepeatPa == 0 || tol.FlowGain+tol.FlowRepeat == 0, ToleranceMissing)
	set(wantedPa >= t.StaticGaugePa, StaticBelowWanted)
	return f
}
