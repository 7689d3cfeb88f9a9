package heat

import (
	"math"

	"headroom/rules/check"
)

// Units of the sources, by definition or NIST SP 811.
const (
	psiPa  = 6894.757293168361
	galM3  = 3.785411784e-3
	gpmM3s = galM3 / 60
	hpW    = 745.69987158227022
	btuJ   = 1055.05585262
	lbKg   = 0.45359237
	ftM    = 0.3048
	gMS2   = 9.80665
	degF   = 5.0 / 9
	btuLbF = 4186.8 // J/(kg K), 1 Btu/(lb F).
	btuH   = btuJ / 3600
)

// valid turns a refused value into NaN, which no tolerance admits.
func valid(v float64, ok bool) float64 {
	if !ok {
		return math.NaN()
	}
	return v
}

// Checks returns every computed quantity with its provenance, and the values
// from outside it was compared with.
func Checks() []check.Quantity {
	return []check.Quantity{
		hydraulicCheck(), shaftCheck(), pumpRiseCheck(), pumpLossCheck(),
		throttleCheck(), realThrottleCheck(),
		rateCheck(), equilibriumCheck(), afterCheck(), approachCheck(),
		coolingCheck(), freezeCheck(),
	}
}

func hydraulicCheck() check.Quantity {
	hp := func(gpm, psi float64) float64 { return valid(HydraulicPowerW(gpm*gpmM3s, psi*psiPa)) }
	return check.Quantity{
		Name: "hydraulic power", Func: "heat.HydraulicPowerW", Unit: "W",
		Formula: "P = Q dp", Range: "0 to 1 m3/s, 0 to 500 MPa",
		Source: "hp = gpm psi/1714, the trade's formula",
		// 1714 stands for 1714.286, and the figure has four digits.
		Tol: 2.3e-4,
		Cases: []check.Case{
			{Name: "4 gpm at 4000 psi, 9.335 hp", Want: 9.335 * hpW, Got: hp(4, 4000), Origin: check.Arithmetic},
			{Name: "10 gpm at 2000 psi, 11.669 hp", Want: 11.669 * hpW, Got: hp(10, 2000), Origin: check.Arithmetic},
			{Name: "2 gpm at 1500 psi, 1.750 hp", Want: 1.750 * hpW, Got: hp(2, 1500), Origin: check.Arithmetic, Tol: 3e-4},
			{Name: "520 gpm at 2950 psi, 894.98 hp", Want: 894.98 * hpW, Got: hp(520, 2950), Source: "Lapeyrouse, Formulas and Calculations for Drilling, Production and Workover, example of hydraulic horsepower, from memory", Origin: check.Memory},
		},
	}
}

func shaftCheck() check.Quantity {
	return check.Quantity{
		Name: "shaft power of a pump", Func: "heat.ShaftPowerW", Unit: "W",
		Formula: "P_shaft = P_hyd/eta", Range: "0 to 1 MW, efficiency 0.01 to 1",
		Source: "definition of efficiency", Tol: 1e-12,
		Cases: []check.Case{
			{Name: "14 hp at 70 % needs 20 hp, the pump of the temperature rise example",
				Want: 20 * hpW, Got: valid(ShaftPowerW(14*hpW, 0.7)), Origin: check.Arithmetic},
			// Half of the last printed digit.
			{Name: "100 gpm, 421 ft, 62.305 lb/ft3, 70 %: 15.2 bhp", Want: 15.2 * hpW,
				Got:    valid(ShaftPowerW(100*gpmM3s*62.305*lbKg/(ftM*ftM*ftM)*gMS2*421*ftM, 0.7)),
				Source: "Crane, Flow of Fluids (TP 410), example of power required for pumping, from memory", Origin: check.Memory,
				Tol: 0.05 / 15.2},
		},
	}
}

func pumpRiseCheck() check.Quantity {
	const rho = 998
	got := valid(PumpRiseK(rho*gMS2*5000*ftM, 0.8, rho, btuLbF))
	return check.Quantity{
		Name: "temperature rise across a pump, from efficiency", Func: "heat.PumpRiseK", Unit: "K",
		Formula: "dT = dp (1/eta - 1)/(rho c)", Range: "0 to 500 MPa, efficiency 0.01 to 1",
		Source: "public pump engineering page, dT = H/(778 c) (1/eta - 1) in F and ft",
		Cases: []check.Case{
			{Name: "5000 ft, 80 %: 1.6 F as printed", Want: 1.6 * degF, Got: got, Origin: check.Worked,
				Tol: 0.05 / 1.6},
			// 778 for 778.17 is 2.2e-4, and the figure has six digits.
			{Name: "5000 ft, 80 %: 1.60668 F", Want: 1.60668 * degF, Got: got, Origin: check.Arithmetic,
				Tol: 3e-4},
		},
	}
}

func pumpLossCheck() check.Quantity {
	si := func(w, eta, q float64) float64 { return valid(PumpRiseFromPowerK(w*(1-eta), q*1000, 4200)) }
	const lbH = lbKg / 3600
	return check.Quantity{
		Name: "temperature rise across a pump, from lost power", Func: "heat.PumpRiseFromPowerK", Unit: "K",
		Formula: "dT = P_lost/(m c)", Range: "0 to 1 MW, 1e-6 to 1000 kg/s, result to 300 K",
		Source: "public engineering page, dT = P (1 - eta)/(c q rho)",
		Cases: []check.Case{
			{Name: "50000 lb/h, 20 bhp, 70 %: 0.31 F as printed", Want: 0.31 * degF,
				Got:    valid(PumpRiseFromPowerK(20*0.3*hpW, 50000*lbH, btuLbF)),
				Source: "public pump engineering page, dT = 2545 (BHP - WHP)/(w c)", Origin: check.Worked,
				Tol: 0.005 / 0.31},
			{Name: "0.11 kW, 28 %, 0.0017 m3/s: 0.011 K as printed", Want: 0.011, Got: si(110, 0.28, 0.0017),
				Origin: check.Worked, Tol: 0.0005 / 0.011},
			// The inputs are printed with two digits: 0.00056 alone leaves 1 %,
			// 15 % and 0.095 as much again.
			{Name: "0.095 kW, 15 %, 0.00056 m3/s: 0.035 K as printed", Want: 0.035, Got: si(95, 0.15, 0.00056),
				Origin: check.Worked, Tol: 0.03},
		},
	}
}

func throttleCheck() check.Quantity {
	const rho = 62.4 * lbKg / (ftM * ftM * ftM)
	return check.Quantity{
		Name: "temperature rise of a throttle, incompressible", Func: "heat.IncompressibleThrottleRiseK", Unit: "K",
		Formula: "dT = dp/(rho c)", Range: "0 to 500 MPa, result to 300 K",
		Source: "dT = 144 dp/(62.4 * 778.17), F and psi, c = 1 Btu/(lb F)",
		// 778.17 has five digits, the figure too.
		Tol: 3e-5,
		Cases: []check.Case{
			{Name: "1000 psi: 2.9655 F", Want: 2.9655 * degF,
				Got: valid(IncompressibleThrottleRiseK(1000*psiPa, rho, btuLbF)), Origin: check.Arithmetic},
			// Half of the last printed digit; 50 m of head are lost as in a throttle.
			{Name: "a waterfall of 50 m: 0.117 K", Want: 0.117,
				Got:    valid(IncompressibleThrottleRiseK(1000*gMS2*50, 1000, 4186)),
				Source: "textbooks of physics, exercise on Joule's waterfall (9.8 x 50/4186), from memory", Origin: check.Memory,
				Tol: 0.0005 / 0.117},
		},
	}
}

func realThrottleCheck() check.Quantity {
	q := check.Quantity{
		Name: "temperature rise of a throttle, real water", Func: "heat.ThrottleRiseK", Unit: "K",
		Formula: "h(T + dT, p2) = h(T, p1)", Range: "IF97 region 1 on both sides, p2 <= p1",
		Source: "python3-iapws 1.5.2, IAPWS-95, another formulation",
		// 0.1 % is the uncertainty of cp that R7-97 gives for this region; the
		// rise is an enthalpy difference over cp.
		Tol: 1e-3,
	}
	for _, c := range []struct {
		name            string
		k, in, out, dTK float64
	}{
		{"20 C, 20 MPa to 0.1 MPa", 293.15, 20e6, 0.1e6, 4.437331},
		{"60 C, 20 MPa to 0.2 MPa", 333.15, 20e6, 0.2e6, 3.962675},
		{"10 C, 10 MPa to 0.5 MPa", 283.15, 10e6, 0.5e6, 2.197242},
		{"80 C, 25 MPa to 0.3 MPa", 353.15, 25e6, 0.3e6, 4.684741},
	} {
		q.Cases = append(q.Cases, check.Case{Name: c.name, Want: c.dTK,
			Got: valid(ThrottleRiseK(c.k, c.in, c.out)), Origin: check.Library})
	}
	return q
}
