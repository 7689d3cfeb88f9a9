package supply

import "headroom/rules/check"

// Units of the sources, exact by definition: the US gallon of 231 in3, the
// inch of 25.4 mm, the pound-force of 4.4482216152605 N.
const (
	inchM   = 0.0254
	psiPa   = 4.4482216152605 / (inchM * inchM)
	galM3   = 231 * inchM * inchM * inchM
	gpmM3s  = galM3 / 60
	nfpa291 = "NFPA 291, Recommended Practice for Fire Flow Testing and Marking of Hydrants"
	hose34  = "public table of fire-service friction loss, 3/4 in hose, 100 ft, coefficient 1100"
)

// Checks states what this package computes and what it was compared with.
func Checks() []check.Quantity {
	return []check.Quantity{powerFlowChecks(), powerPressureChecks(), quadraticChecks(),
		exponentChecks(), spreadChecks(), tankChecks()}
}

func gpm(q float64, _ bool) float64 { return q / gpmM3s }
func psi(p float64, _ bool) float64 { return p / psiPa }

func powerFlowChecks() check.Quantity {
	q := check.Quantity{
		Name: "flow at a pressure from a flow test, in gpm of the sources", Func: "supply.PowerFlow", Unit: "gpm",
		Formula: "Q = Qf (hr/hf)^0.54, hr = static - wanted, hf = static - flowing",
		Range:   "pressures to 5 MPa gauge, flows 1e-7..1 m3/s, flowing below static",
		Source:  nfpa291, Tol: 3e-3,
	}
	q.Cases = append(q.Cases, check.Case{
		Name: "static 85 psi, 72 psi at 1100 gpm, wanted 20 psi", Want: 2618,
		Got:    gpm(PowerFlow(85*psiPa, 72*psiPa, 1100*gpmM3s, 20*psiPa)),
		Source: "public page on sprinkler water supply, worked example (its factor rounded to 2.38)", Origin: check.Worked})
	// The standard's table of h to the 0.54 power: a test that dropped 1 psi at
	// 1 gpm gives h^0.54 gpm at a drop of h. Printed to 0.01.
	for _, r := range []struct {
		name    string
		h, want float64
	}{{"h = 2 psi", 2, 1.45}, {"h = 3 psi", 3, 1.81}, {"h = 5 psi", 5, 2.39}, {"h = 8 psi", 8, 3.07},
		{"h = 10 psi", 10, 3.47}, {"h = 12 psi", 12, 3.83}, {"h = 20 psi", 20, 5.04}, {"h = 50 psi", 50, 8.27},
		{"h = 65 psi", 65, 9.53}, {"h = 100 psi", 100, 12.02}} {
		q.Cases = append(q.Cases, check.Case{Name: r.name + ", drop 1 psi at 1 gpm", Want: r.want,
			Got:    gpm(PowerFlow(r.h*psiPa, (r.h-1)*psiPa, gpmM3s, 0)),
			Source: nfpa291 + ", table of values of h^0.54", Origin: check.Memory, Tol: 0.0055 / r.want})
	}
	return q
}

func powerPressureChecks() check.Quantity {
	return check.Quantity{
		Name: "pressure left at a flow, from a flow test, in psi of the source", Func: "supply.PowerPressure", Unit: "psi",
		Formula: "p = static - hf (Q/Qf)^(1/0.54)", Range: "as PowerFlow, and above a vacuum",
		Source: nfpa291 + ", solved for the pressure", Tol: 0.013,
		Cases: []check.Case{{Name: "static 85 psi, 72 psi at 1100 gpm, at 2618 gpm", Want: 20,
			Got:    psi(PowerPressure(85*psiPa, 72*psiPa, 1100*gpmM3s, 2618*gpmM3s)),
			Source: "public page on sprinkler water supply, worked example read backwards: 0.2 % of flow is 0.24 psi",
			Origin: check.Worked}},
	}
}

// hoseTest is a supply test whose drops are rows of the public table, below a
// tap of 120 psi that loses nothing.
func hoseTest(q1, drop1, q2, drop2 float64) Test {
	return Test{StaticGaugePa: 120 * psiPa, Count: 2, Flowing: [2]Reading{
		{FlowM3s: q1 * gpmM3s, InletGaugePa: (120 - drop1) * psiPa},
		{FlowM3s: q2 * gpmM3s, InletGaugePa: (120 - drop2) * psiPa}}}
}

func quadraticChecks() check.Quantity {
	fit, _ := FitQuadratic(hoseTest(10, 11, 20, 44))
	drop := func(q float64) float64 { return 120 - psi(fit.Pressure(q*gpmM3s)) }
	return check.Quantity{
		Name: "drop by the quadratic fitted to the rows of 10 and 20 gpm", Func: "supply.FitQuadratic", Unit: "psi",
		Formula: "p = p0 - k q^2, least squares of p on q^2", Range: "two or three readings that Check accepts",
		Source: hose34, Tol: 2.5e-3,
		Cases: []check.Case{
			{Name: "15 gpm", Want: 24.8, Got: drop(15), Origin: check.Worked},
			{Name: "25 gpm", Want: 68.8, Got: drop(25), Origin: check.Worked},
			{Name: "30 gpm", Want: 99, Got: drop(30), Origin: check.Worked},
			{Name: "flow in gpm at a drop of 99 psi", Want: 30, Got: gpm(fit.Flow(21 * psiPa)), Origin: check.Worked},
		},
	}
}

func exponentChecks() check.Quantity {
	return check.Quantity{
		Name: "exponent of the drop from two flowing readings", Func: "supply.FitExponent", Unit: "1",
		Formula: "n = ln(drop1/drop2) / ln(flow1/flow2)", Range: "two readings with different flows and drops",
		Source: hose34, Tol: 5e-3,
		Cases: []check.Case{
			{Name: "rows of 10 and 20 gpm: 11 and 44 psi", Want: 2, Got: FitExponent(hoseTest(10, 11, 20, 44)).N, Origin: check.Worked},
			{Name: "rows of 15 and 30 gpm: 24.8 and 99 psi", Want: 2, Got: FitExponent(hoseTest(15, 24.8, 30, 99)).N, Origin: check.Worked},
			{Name: "rows of 5 and 30 gpm: 2.8 (rounded by up to 1.8 %) and 99 psi", Want: 2, Tol: 0.01,
				Got: FitExponent(hoseTest(5, 2.8, 30, 99)).N, Origin: check.Worked},
			{Name: "Hazen-Williams 3/4 in, 100 ft, C 150 at 5 and 20 gpm", Want: 1.85, Tol: 2e-3,
				Got:    FitExponent(hoseTest(5, 3.3956, 20, 44.129)).N,
				Source: "Hazen-Williams p = 4.52 Q^1.85/(C^1.85 d^4.87), public form of NFPA 13", Origin: check.Arithmetic},
		},
	}
}

func spreadChecks() check.Quantity {
	t := Test{StaticGaugePa: 85 * psiPa, Count: 1, Flowing: [2]Reading{{1100 * gpmM3s, 72 * psiPa}},
		Tolerance: Tolerance{PressureRepeatPa: 0.1 * psiPa}}
	pressure := Evaluate(t, 20*psiPa).Flow.Power.Tol / gpmM3s
	t.Tolerance = Tolerance{PressureOffsetPa: 0.1 * psiPa}
	offset := Evaluate(t, 20*psiPa).Flow.Power.Tol / gpmM3s
	t.Tolerance = Tolerance{FlowGain: 0.02}
	flow := Evaluate(t, 20*psiPa).Flow.Power.Tol / gpmM3s
	return check.Quantity{
		Name: "tolerance carried through to the available flow, power law", Func: "supply.Evaluate", Unit: "gpm",
		Formula: "u(Q)^2 = sum of (dQ/dx u(x))^2; dQ/dstatic = 0.54 Q (1/hr - 1/hf), dQ/dflowing = 0.54 Q/hf, dQ/dQf = Q/Qf",
		Range:   "tolerances small against the drop", Source: "JCGM 100:2008 (GUM) 5.1.2", Tol: 1e-3,
		Cases: []check.Case{
			{Name: "static 85, 72 psi at 1100 gpm, at 20 psi, 0.1 psi each", Want: 13.954, Got: pressure, Origin: check.Arithmetic},
			// Three standard errors of the sample's deviation are 0.15 %.
			{Name: "the same by drawing 2 million readings", Want: 13.951, Got: pressure, Origin: check.Library, Tol: 1.5e-3,
				Source: "numpy, standard deviation after JCGM 101:2008, propagation by Monte Carlo, seed 1"},
			{Name: "the same, 0.1 psi common to both: the drop stays, only hr moves, 0.54 Q/hr", Want: 2.1793, Got: offset, Origin: check.Arithmetic},
			{Name: "the same, 2 % of flow", Want: 52.465, Got: flow, Origin: check.Arithmetic},
		},
	}
}

func tankChecks() check.Quantity {
	minutes := func(volumeGal, draw, fill float64, d Duty) float64 {
		s, _, _ := TankLast(volumeGal*galM3, draw*gpmM3s, fill*gpmM3s, d)
		return s / 60
	}
	return check.Quantity{
		Name: "time a buffer tank lasts", Func: "supply.TankLast", Unit: "min",
		Formula: "V/(draw - fill) while spraying, refilled in each pause", Range: "volume to 1000 m3, cycle to a day",
		Source: "volume balance, worked by hand", Tol: 1e-9,
		Cases: []check.Case{
			{Name: "100 gal, 8 gpm out, 3 gpm in, no pause", Want: 20, Got: minutes(100, 8, 3, Duty{OnS: 60}), Origin: check.Arithmetic},
			{Name: "20 gal, 8 gpm out, 3 gpm in, 2 min on 2 min off: 20,10,16,6,12,2,8 gal, then 8/5 min", Want: 13.6,
				Got: minutes(20, 8, 3, Duty{OnS: 120, OffS: 120}), Origin: check.Arithmetic},
		},
	}
}
