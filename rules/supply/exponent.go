package supply

import "headroom/rules/detmath"

// The exponent of a passive supply's pressure drop lies between laminar flow
// and fully rough turbulent flow. Source: any text on pipe flow.
const (
	laminarExponent = 1.0
	roughExponent   = 2.0
	// maxExponentTol is the widest tolerance at which an exponent is worth
	// telling: half the way between laminar and rough. Judgement.
	maxExponentTol = 0.5
)

// Exponent is the fitted n of the pressure drop ~ flow^n.
type Exponent struct {
	// N is the exponent (no unit) and Tol the tolerance carried through from
	// the sensors.
	N, Tol float64
	// Known is false when the readings cannot tell: one flowing reading, two
	// that are too alike, or a tolerance wider than 0.5.
	Known bool
	// Odd says that N lies outside 1..2 by more than Tol.
	Odd bool
}

// FitExponent returns n of drop ~ flow^n from two flowing readings and the
// static one: n = ln(drop1/drop2) / ln(flow1/flow2). The 0.54 power law of
// hydrant flow testing is n = 1.85, a fully rough hose n = 2. Known=false where
// the readings cannot tell or Check refuses the test.
func FitExponent(t Test) Exponent {
	if s, _ := t.Check(); s != OK {
		return Exponent{}
	}
	n, ok := t.exponent()
	if !ok {
		return Exponent{}
	}
	tol, ok := t.spread(exponent, PowerLaw, 0)
	if !ok || !(tol <= maxExponentTol) {
		return Exponent{}
	}
	return Exponent{N: n, Tol: tol, Known: true, Odd: n+tol < laminarExponent || n-tol > roughExponent}
}

// exponent refuses drops and flows that are not apart.
func (t Test) exponent() (float64, bool) {
	if t.Count != 2 {
		return 0, false
	}
	d0 := t.StaticGaugePa - t.Flowing[0].InletGaugePa
	d1 := t.StaticGaugePa - t.Flowing[1].InletGaugePa
	q0, q1 := t.Flowing[0].FlowM3s, t.Flowing[1].FlowM3s
	if !(d0 > 0) || !(d1 > 0) || !(q0 > 0) || !(q1 > 0) || q0 == q1 {
		return 0, false
	}
	n := detmath.Log(d0/d1) / detmath.Log(q0/q1)
	if !finite(n) {
		return 0, false
	}
	return n, true
}
