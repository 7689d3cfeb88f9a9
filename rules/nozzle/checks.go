package nozzle

import (
	"math"

	"headroom/rules/check"
)

// The sources' pound-force and horsepower, exact by definition, and water near
// 60 F, the density at which 29.84 is the factor in gpm, inch and psi (IAPWS-IF97:
// 999.0 kg/m3).
const (
	lbfN    = 4.4482216152605
	hpW     = 550 * lbfN * 12 * inchM
	coldKg  = 999.0
	nfpa291 = "NFPA 291 4.9: Q = 29.84 c d^2 sqrt(P)"
	fire    = "fire-service hydraulics, public pages"
	tips    = "fire-service table of smooth bore tips, from memory"
)

// Checks states what this package computes and what it was compared with. The
// cases are in the sources' gpm, psi, inch and lbf, converted to SI on the way
// in and back on the way out.
func Checks() []check.Quantity {
	return []check.Quantity{flowChecks(), dropChecks(), pullChecks(), velocityChecks(),
		powerChecks(), numberChecks(), headChecks()}
}

// gpmThrough is the flow in gpm through a hole of d inches at p psi.
func gpmThrough(cd, dInch, pPsi float64) float64 {
	k, _ := Factor(cd, area(dInch*inchM), coldKg)
	q, _ := Flow(k, pPsi*psiPa)
	return q / gpmM3s
}

func flowChecks() check.Quantity {
	return check.Quantity{
		Name: "flow through an orifice, in gpm of the sources", Func: "nozzle.Flow", Unit: "gpm",
		Formula: "Q = cd A sqrt(2 dp / rho)", Range: "cd 0..1, 0..200 MPa, 900..1200 kg/m3",
		Source: nfpa291, Tol: 6e-4, // 29.83 and 29.84 are both in use: 0.03 %
		Cases: []check.Case{
			{Name: "d 2.5 in, c 0.9, 40 psi (printed with 29.83)", Want: 1061, Got: gpmThrough(0.9, 2.5, 40),
				Source: "public engineering forum, worked hydrant flow", Origin: check.Worked, Tol: 1e-3},
			{Name: "coefficient: d 1 in, c 1, 1 psi", Want: 29.84, Got: gpmThrough(1, 1, 1), Source: nfpa291 + ", read from secondary pages", Origin: check.Published},
			{Name: "coefficient, rounded outlet c 0.9", Want: 26.856, Got: gpmThrough(0.9, 1, 1), Origin: check.Arithmetic},
			{Name: "tip flow 29.7 d^2 sqrt(NP): 1 1/8 in at 50 psi, c 29.7/29.84", Want: 265.8,
				Got: gpmThrough(29.7/29.84, 1.125, 50), Source: fire, Origin: check.Arithmetic},
			{Name: "d 0.040 in, c 0.95, 2000 psi", Want: 2.0284, Got: gpmThrough(0.95, 0.040, 2000), Origin: check.Arithmetic},
			// Half of the last printed digit, and 0.03 % as above.
			{Name: "tip of 1 3/8 in at 80 psi", Want: 502, Got: gpmThrough(29.7/29.84, 1.375, 80), Source: tips, Origin: check.Memory, Tol: 0.0013},
			{Name: "tip of 1 1/2 in at 80 psi", Want: 598, Got: gpmThrough(29.7/29.84, 1.5, 80), Source: tips, Origin: check.Memory, Tol: 0.0012},
		},
	}
}

func dropChecks() check.Quantity {
	k, _ := Factor(0.9, area(2.5*inchM), coldKg)
	drop, _ := Drop(k, 1061*gpmM3s)
	return check.Quantity{
		Name: "pressure for a flow through an orifice, in psi of the source", Func: "nozzle.Drop", Unit: "psi",
		Formula: "dp = (Q/K)^2, K = cd A sqrt(2/rho)", Range: "as Flow", Source: nfpa291 + ", solved for P", Tol: 2e-3,
		Cases: []check.Case{{Name: "d 2.5 in, c 0.9, 1061 gpm", Want: 40, Got: drop / psiPa,
			Source: "public engineering forum, worked hydrant flow read backwards", Origin: check.Worked}},
	}
}

func pullChecks() check.Quantity {
	pull := func(dInch float64, forward bool, angle float64) float64 {
		h := Head{Cd: 1}
		h.Groups[0] = Group{Count: 1, DiameterM: dInch * inchM, AngleRad: angle, Forward: forward}
		f, _ := h.Pull(50 * psiPa)
		return f / lbfN
	}
	return check.Quantity{
		Name: "pull of a jetting head, in lbf of the source", Func: "nozzle.Head.Pull", Unit: "lbf",
		Formula: "sum of n 2 cd A dp cos(angle), rear plus, forward minus", Range: "angle 0..pi/2, to 4 groups of 64 jets",
		Source: "reaction 1.57 d^2 NP = 2 P A, fire-service texts", Tol: 1e-3, Floor: 1,
		Cases: []check.Case{
			{Name: "one jet ahead, 1 1/8 in at 50 psi", Want: -99.35, Got: pull(1.125, true, 0), Origin: check.Arithmetic},
			{Name: "the same back at 60 degrees: half", Want: 49.675, Got: pull(1.125, false, math.Pi/3), Origin: check.Arithmetic},
			{Name: "sideways: nothing", Want: 0, Got: pull(1.125, false, math.Pi/2), Origin: check.Arithmetic},
			// Half of the last printed digit, and 0.1 % of 1.57 for pi/2.
			{Name: "one jet back, 1 1/4 in at 50 psi", Want: 123, Got: pull(1.25, false, 0), Source: tips, Origin: check.Memory, Tol: 0.0051},
			{Name: "one jet back, 1 in at 50 psi", Want: 79, Got: pull(1, false, 0), Source: tips, Origin: check.Memory, Tol: 0.0074},
		},
	}
}

func velocityChecks() check.Quantity {
	const gravity = 9.80665
	v, _ := JetVelocity(coldKg*gravity*100*12*inchM, coldKg)
	return check.Quantity{
		Name: "jet velocity, in ft/s of the source", Func: "nozzle.JetVelocity", Unit: "ft/s",
		Formula: "v = sqrt(2 dp / rho)", Range: "0..200 MPa",
		Source: "Torricelli in US units, v = 8.02 sqrt(h in ft), any handbook of hydraulics", Tol: 1e-3,
		Cases: []check.Case{{Name: "head of 100 ft of water", Want: 80.2, Got: v / (12 * inchM), Origin: check.Memory}},
	}
}

func powerChecks() check.Quantity {
	hp := func(qGpm, pPsi float64) float64 {
		w, _ := Power(qGpm*gpmM3s, pPsi*psiPa)
		return w / hpW
	}
	return check.Quantity{
		Name: "hydraulic power, in hp of the source", Func: "nozzle.Power", Unit: "hp", Formula: "P = Q dp",
		Range: "0..1 m3/s, 0..200 MPa", Source: "gpm psi / 1714 (33000 x 12 / 231 = 1714.29)", Tol: 3e-4,
		Cases: []check.Case{
			{Name: "1714 gpm at 1 psi", Want: 1, Got: hp(1714, 1), Origin: check.Memory},
			{Name: "4 gpm at 4000 psi", Want: 9.335, Got: hp(4, 4000), Origin: check.Arithmetic},
			{Name: "10 gpm at 2000 psi", Want: 11.669, Got: hp(10, 2000), Origin: check.Arithmetic},
		},
	}
}

func numberChecks() check.Quantity {
	flow := func(number, pPsi float64) float64 {
		k, _ := FactorOfNumber(number)
		q, _ := Flow(k, pPsi*psiPa)
		return q / gpmM3s
	}
	k, _ := Factor(0.95, area(0.040*inchM), coldKg)
	number, _ := NumberOf(k)
	return check.Quantity{
		Name: "US trade size number of a nozzle, flow in gpm", Func: "nozzle.FactorOfNumber", Unit: "gpm",
		Formula: "Q = number sqrt(P / 4000 psi)", Range: "number 0.0001..1000",
		Source: "convention of the trade: gpm at 4000 psi", Tol: 1e-6,
		Cases: []check.Case{
			{Name: "number 4 at 4000 psi", Want: 4, Got: flow(4, 4000), Origin: check.Practice},
			{Name: "number 4 at 1000 psi", Want: 2, Got: flow(4, 1000), Origin: check.Practice},
			{Name: "number of a 0.040 in hole, c 0.95 (K 0.0453568 gpm per root psi)", Want: 0.0453568 * 63.2455532,
				Got: number, Source: nfpa291, Origin: check.Arithmetic, Tol: 6e-4},
		},
	}
}

func headChecks() check.Quantity {
	h := Head{Cd: 0.95}
	h.Groups[0] = Group{Count: 1, DiameterM: 0.040 * inchM, Forward: true}
	h.Groups[1] = Group{Count: 4, DiameterM: 0.040 * inchM, AngleRad: 0.5}
	k, _ := h.Factor(coldKg)
	q, _ := Flow(k, 2000*psiPa)
	pair := Head{Cd: 29.7 / 29.84}
	pair.Groups[0] = Group{Count: 2, DiameterM: 1.125 * inchM}
	kPair, _ := pair.Factor(coldKg)
	qPair, _ := Flow(kPair, 50*psiPa)
	return check.Quantity{
		Name: "flow of a head with 1 forward and 4 rear jets, in gpm", Func: "nozzle.Head.Factor", Unit: "gpm",
		Formula: "K = cd sum(A) sqrt(2/rho)", Range: "to 4 groups of 64 jets", Source: nfpa291, Tol: 6e-4,
		Cases: []check.Case{
			{Name: "5 holes of 0.040 in, c 0.95, 2000 psi", Want: 5 * 2.0284, Got: q / gpmM3s, Origin: check.Arithmetic},
			// Half of the last printed digit, and 0.03 % as for the flow.
			{Name: "two tips of 1 1/8 in at 50 psi, twice 266 gpm", Want: 2 * 266, Got: qPair / gpmM3s, Source: tips, Origin: check.Memory, Tol: 0.0022},
		},
	}
}
