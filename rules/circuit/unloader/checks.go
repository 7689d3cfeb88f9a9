package unloader

import "headroom/rules/check"

const (
	psiPa   = 6894.757293168361
	gpmM3s  = 6.30901964e-5
	hpW     = 745.69987158227022
	orifice = "flow through an orifice goes with the square root of the pressure: any table of nozzle flows"
)

// Checks returns this package's computed quantities with the outside values
// they are compared with.
func Checks() []check.Quantity {
	return []check.Quantity{costCheck(), powerCheck(), currentCheck(), pressureCheck()}
}

// point is an operating point: 18 A now, 9 A without pressure, so that a limit
// of 13.5 A halves the pressure by the line.
func point(psi, gpm, limitA float64) Input {
	return Input{
		Method: ByLine, NowA: 18, NoLoadA: 9, LimitA: limitA,
		PumpPa: float64(psi * psiPa), NozzlePa: float64(psi * psiPa), NozzleM3s: float64(gpm * gpmM3s),
	}
}

func costCheck() check.Quantity {
	half, _, _ := Advise(point(3000, 4, 13.5))
	return check.Quantity{
		Name: "what is left at the nozzle", Func: "unloader.Advise (shares)", Unit: "1",
		Formula: "flow r^0.5, power r^1.5", Range: "r 0.1..1", Source: orifice, Tol: 1e-3,
		Cases: []check.Case{
			// Half of the last printed digit.
			{Name: "flow at half the pressure", Want: 0.707, Got: half.FlowShare, Origin: check.Memory},
			{Name: "power at half the pressure: 0.5 * 0.707", Want: 0.3535, Got: half.PowerShare, Origin: check.Arithmetic},
			{Name: "pressure left", Want: 0.5, Got: half.PressureShare, Origin: check.Arithmetic},
		},
	}
}

func powerCheck() check.Quantity {
	c := func(psi, gpm float64) float64 {
		a, _, _ := Advise(point(psi, gpm, 20))
		return a.NowW
	}
	return check.Quantity{
		Name: "hydraulic power at the nozzle", Func: "unloader.Advise (NowW)", Unit: "W",
		Formula: "p Q", Range: "1e-9..1e9 Pa, 1e-9..1 m3/s", Source: "hp = gpm psi/1714, handbooks of pumps (from memory)", Tol: 3e-4,
		Cases: []check.Case{
			{Name: "4 gpm, 4000 psi: 9.335 hp", Want: 9.335 * hpW, Got: c(4000, 4), Origin: check.Memory},
			{Name: "10 gpm, 2000 psi: 11.669 hp", Want: 11.669 * hpW, Got: c(2000, 10), Origin: check.Memory},
		},
	}
}

func currentCheck() check.Quantity {
	line, _, _ := Advise(point(3000, 4, 13.5))
	// A 3-4-5 triangle: 20 A now, of which 16 A active and 12 A reactive;
	// without pressure 13 A, of which 5 A active. At 15 A the active part is 9 A.
	split, _, _ := Advise(triangle345())
	return check.Quantity{
		Name: "current at the reduced pressure", Func: "unloader.Advise (PredictedA)", Unit: "A",
		Formula: "sqrt(m^2 + (b + (a1 - b) r)^2), or I0 + s p", Range: "limit above the no-load current",
		Source: "active and reactive current add as a right triangle, any text on alternating current", Tol: 1e-9,
		Cases: []check.Case{
			{Name: "line, half the pressure", Want: 13.5, Got: line.PredictedA, Origin: check.Arithmetic},
			{Name: "3-4-5 triangle", Want: 15, Got: split.PredictedA, Origin: check.Arithmetic},
		},
	}
}

// triangle345 has 1600 W hydraulic at 0.8 and 125 V: 16 A active.
func triangle345() Input {
	return Input{
		Method: ByEfficiency, NowA: 20, NoLoadA: 13, LimitA: 15,
		HydraulicW: 1600, Efficiency: 0.8, SupplyV: 125,
		PumpPa: 11e6, NozzlePa: 10e6, NozzleM3s: 1.6e-4,
	}
}

func pressureCheck() check.Quantity {
	split, _, _ := Advise(triangle345())
	return check.Quantity{
		Name: "pressure to turn down to", Func: "unloader.Advise (PumpPa)", Unit: "Pa",
		Formula: "p1 (sqrt(I^2 - m^2) - b)/(a1 - b)", Range: "0.1..1 of the present pressure",
		Source: "active and reactive current add as a right triangle, any text on alternating current", Tol: 1e-9,
		Cases: []check.Case{
			{Name: "3-4-5 triangle: (9 - 5)/(16 - 5) of 11 MPa", Want: 4e6, Got: split.PumpPa, Origin: check.Arithmetic},
		},
	}
}
