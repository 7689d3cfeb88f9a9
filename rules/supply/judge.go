package supply

import "math"

// Return says where the water of the unloader's bypass goes.
type Return uint8

// The ways back.
const (
	// ReturnUnknown is treated like ReturnAway, the harder case.
	ReturnUnknown Return = iota
	// ReturnToInlet: back to the pump's own inlet, so that the supply only
	// gives what leaves through the nozzle.
	ReturnToInlet
	// ReturnAway: to the ground or a tank, so that the supply gives the
	// pump's whole flow.
	ReturnAway
)

// Need is what one pump and nozzle ask of the supply.
type Need struct {
	// PumpM3s is the pump's flow at its speed, m3/s, > 0.
	PumpM3s float64
	// NozzleM3s is the nozzle's flow at the working pressure, m3/s; 0 when not
	// known.
	NozzleM3s float64
	// BypassM3s is an allowance for water that leaves another way (thermal
	// relief, bleed), m3/s, >= 0.
	BypassM3s float64
	// Return says where the bypass goes.
	Return Return
	// InletGaugePa is the wanted pressure at the pump inlet, Pa gauge, 0..5 MPa.
	InletGaugePa float64
}

// Draw is the supply held against one demand.
type Draw struct {
	// RequiredM3s is the demand with the bypass allowance, m3/s.
	RequiredM3s float64
	// FlowMarginLowM3s and FlowMarginHighM3s are the least and the most flow
	// left over at the wanted pressure; negative is missing.
	FlowMarginLowM3s, FlowMarginHighM3s float64
	// Inlet is the inlet pressure at the demand, Pa gauge; Inlet.OK is false
	// where it would lie below a vacuum.
	Inlet Span
	// PressureMarginLowPa and ...HighPa are Inlet less the wanted pressure;
	// only with Inlet.OK.
	PressureMarginLowPa, PressureMarginHighPa float64
	// Extrapolated says that the demand lies above the largest tested flow.
	Extrapolated bool
	Verdict      Verdict
}

// Judgement is the verdict for a pump and its nozzle.
type Judgement struct {
	Result Result
	// Pump holds the pump's whole flow against the supply; Nozzle only what
	// leaves through the nozzle, VerdictUnknown when that flow isn't known.
	Pump, Nozzle Draw
	// ByNozzle says that the nozzle's draw governs, since the bypass goes back
	// to the inlet.
	ByNozzle bool
	// Verdict is that of the governing draw.
	Verdict Verdict
}

// Governing returns the draw that decides.
func (j Judgement) Governing() Draw {
	if j.ByNozzle {
		return j.Nozzle
	}
	return j.Pump
}

// Judge evaluates a test for a pump and nozzle. Verdict is VerdictUnknown when
// the test is refused (Result.Status, Result.Repeat) or the need is not known
// (Result.Status OutOfRange).
func Judge(t Test, n Need) Judgement {
	r := Evaluate(t, n.InletGaugePa)
	if r.Status != OK {
		return Judgement{Result: r}
	}
	if !within(n.PumpM3s, MinFlowM3s, MaxFlowM3s) || !within(n.NozzleM3s, 0, MaxFlowM3s) ||
		!within(n.BypassM3s, 0, MaxFlowM3s) {
		return Judgement{Result: Result{Status: OutOfRange}}
	}
	j := Judgement{Result: r, Pump: t.draw(r, n, n.PumpM3s)}
	j.Verdict = j.Pump.Verdict
	if n.NozzleM3s > 0 {
		// The pump cannot push more through the nozzle than it moves.
		j.Nozzle = t.draw(r, n, math.Min(n.NozzleM3s, n.PumpM3s))
		j.ByNozzle = n.Return == ReturnToInlet
	}
	if j.ByNozzle {
		j.Verdict = j.Nozzle.Verdict
	}
	return j
}

// draw holds the supply against one flow.
func (t Test) draw(r Result, n Need, flowM3s float64) Draw {
	need := flowM3s + n.BypassM3s
	d := Draw{RequiredM3s: need, FlowMarginLowM3s: r.Flow.Low - need, FlowMarginHighM3s: r.Flow.High - need,
		Inlet: t.span(pressureAtFlow, need), Extrapolated: need > r.TestedM3s}
	if d.Inlet.OK {
		d.PressureMarginLowPa = d.Inlet.Low - n.InletGaugePa
		d.PressureMarginHighPa = d.Inlet.High - n.InletGaugePa
	}
	d.Verdict = verdictOf(r.Flow.Low, r.Flow.High, need)
	if doubtful(r.Flags, d.Extrapolated) {
		d.Verdict = Marginal
	}
	return d
}

func verdictOf(low, high, need float64) Verdict {
	switch {
	case low >= need:
		return Yes
	case high < need:
		return No
	}
	return Marginal
}

// doubtful says that the test cannot carry a yes or a no: a tolerance is
// unknown, or a demand above the tested flow rests on a weak drop or on an odd
// curve. A static pressure below the wanted one needs no curve to say no.
func doubtful(f Flags, extrapolated bool) bool {
	if f.Has(StaticBelowWanted) {
		return false
	}
	if f.Has(UncertaintyUnknown) || f.Has(ToleranceMissing) {
		return true
	}
	return extrapolated && (f.Has(WeakDrop) || f.Has(ExponentOdd))
}
