package heat

import "headroom/rules/check"

// sampleLoop is the loop whose way was integrated elsewhere: 20 kg of water,
// some metal, 15 kW, 0.02 kg/s of supply at 15 C, starting at 17 C.
var sampleLoop = Loop{PowerW: 15e3, WaterKg: 20, HeatJKgK: 4180, MetalJK: 5e3,
	ExchangeKgs: 0.02, SupplyK: 288.15}

const (
	sampleStartK = 290.15
	sampleLimitK = 333.15
	integrated   = "scipy solve_ivp of C dT/dt = P - m c (T - Ts), relative tolerance 1e-12"
	loopRange    = "0 to 1 MW, up to 1e5 kg, 0 to 1000 kg/s, 200 to 500 K"
)

func rateCheck() check.Quantity {
	const gpm, psi, gal = 2, 1500, 2
	l := Loop{PowerW: valid(HydraulicPowerW(gpm*gpmM3s, psi*psiPa)),
		WaterKg: gal * 8.345 * lbKg, HeatJKgK: btuLbF}
	return check.Quantity{
		Name: "rise rate of the bypass loop", Func: "heat.Loop.RateKs", Unit: "K/s",
		Formula: "dT/dt = (P - m c (T - Ts))/C", Range: loopRange,
		Source: "2544.43 Btu/(hp h), 8.345 lb/gal, c = 1 Btu/(lb F)",
		// The figure has four digits.
		Tol: 1.2e-4,
		Cases: []check.Case{
			{Name: "2 gpm at 1500 psi in a closed 2 gal loop: 4.447 F/min", Want: 4.447 * degF / 60,
				Got: valid(l.RateKs(293.15)), Origin: check.Arithmetic},
			{Name: "1 kW in 1 kg of water of c = 4186.8: 1 kcal is 1 K", Want: 1000 / 4186.8,
				Got: valid(Loop{PowerW: 1000, WaterKg: 1, HeatJKgK: 4186.8}.RateKs(293.15)), Origin: check.Arithmetic,
				Source: "definition of the international kilocalorie, 4186.8 J", Tol: 1e-12},
			// 860 stands for 859.845.
			{Name: "1 kW in 860 kg of water: 1 K in an hour", Want: 1.0 / 3600,
				Got:    valid(Loop{PowerW: 1000, WaterKg: 860, HeatJKgK: 4186.8}.RateKs(293.15)),
				Source: "860 kcal to the kilowatt-hour, International Steam Table Conference 1929, from memory",
				Origin: check.Memory, Tol: 2e-4},
		},
	}
}

func equilibriumCheck() check.Quantity {
	// A water heater: 1 gal/min, 1 Btu/(lb F).
	l := Loop{PowerW: 500.7 * 40 * btuH, WaterKg: 10, HeatJKgK: btuLbF,
		ExchangeKgs: 8.345 * lbKg / 60, SupplyK: 288.15}
	trade := l
	trade.PowerW = 10000 * btuH
	return check.Quantity{
		Name: "temperature a loop with exchange ends at", Func: "heat.Loop.EquilibriumK", Unit: "K",
		Formula: "Te = Ts + P/(m c)", Range: loopRange,
		Source: "Btu/h = 500 gpm dT (F), the trade's formula, with 500.7 for 60 * 8.345", Tol: 1e-6,
		Cases: []check.Case{
			{Name: "40 F above 15 C at 1 gpm", Want: 288.15 + 40*degF, Got: valid(l.EquilibriumK()), Origin: check.Arithmetic},
			// 500 stands for 500.7: 0.14 % of the rise.
			{Name: "20 F above 15 C at 1 gpm with 10000 Btu/h", Want: 288.15 + 20*degF, Got: valid(trade.EquilibriumK()),
				Source: "1 gpm carries 10000 Btu/h at 20 F, rule of hot-water heating in handbooks, from memory",
				Origin: check.Memory, Tol: 0.0015 * 20 * degF / 299},
		},
	}
}

func afterCheck() check.Quantity {
	return check.Quantity{
		Name: "temperature of a loop after a time", Func: "heat.Loop.TempAfterK", Unit: "K",
		Formula: "T = T0 + (dT/dt)0 t (1 - exp(-x))/x, x = t m c/C", Range: loopRange,
		Source: integrated, Tol: 1e-9,
		Cases: []check.Case{
			{Name: "sample loop after 300 s", Want: 333.8913132482265,
				Got: valid(sampleLoop.TempAfterK(sampleStartK, 300)), Origin: check.Library},
		},
	}
}

func approachCheck() check.Quantity {
	closed := Loop{PowerW: 1.75 * 2544.43 * btuH, WaterKg: 2 * 8.345 * lbKg, HeatJKgK: btuLbF}
	return check.Quantity{
		Name: "time until the loop reaches a limit", Func: "heat.Loop.Approach", Unit: "s",
		Formula: "t = C/(m c) ln((Te - T)/(Te - Tl)), closed: C (Tl - T)/P", Range: loopRange,
		Source: integrated, Tol: 1e-9,
		Cases: []check.Case{
			{Name: "sample loop to 60 C", Want: 294.1393375249351,
				Got: sampleLoop.Approach(sampleStartK, sampleLimitK).Seconds, Origin: check.Library},
			{Name: "closed 2 gal loop, 1.75 hp, 70 F to 140 F at 4.447 F/min", Want: 70 / 4.447 * 60,
				Got: closed.Approach(294.26111, 294.26111+70*degF).Seconds, Origin: check.Arithmetic,
				Source: "rate of the loop as above, four digits", Tol: 1.2e-4},
		},
	}
}

func coolingCheck() check.Quantity {
	k := func(f float64) float64 { return (f + 459.67) * degF }
	return check.Quantity{
		Name: "cooling time", Func: "heat.CoolingTimeS", Unit: "s",
		Formula: "t = tau ln((T - Ta)/(Tt - Ta))", Range: "200 to 500 K, tau 1 s to 30 days",
		Source: "Boyce and DiPrima, Elementary Differential Equations, section 2.5, example on Newton's cooling",
		// k is printed with four digits.
		Tol: 6e-4,
		Cases: []check.Case{
			{Name: "98.6 F to 85 F in 68 F at k = 0.5207 per hour: 1.129 h", Want: 1.129 * 3600,
				Got: valid(CoolingTimeS(k(98.6), k(85), k(68), 3600/0.5207)), Origin: check.Memory},
			{Name: "85 F to 74 F in 68 F at k = 0.5207 per hour: 2 h", Want: 2 * 3600,
				Got: valid(CoolingTimeS(k(85), k(74), k(68), 3600/0.5207)), Origin: check.Memory},
		},
	}
}

func freezeCheck() check.Quantity {
	return check.Quantity{
		Name: "freezing point of water", Func: "heat.FreezeK", Unit: "K",
		Formula: "constant", Range: "pressures of a standing pump", Tol: 1e-5,
		Source: "ITS-90: ice point 273.15 K, within 3 mK at one atmosphere",
		Cases:  []check.Case{{Name: "ice point", Want: 273.15, Got: FreezeK, Origin: check.Memory}},
	}
}
