package motor

import "headroom/rules/check"

const (
	table248 = "NFPA 70 (NEC) Table 430.248, read from secondary pages"
	iec149   = "IEC 60255-149, cold and hot curve"
	solved   = "scipy solve_ivp of tau dtheta/dt = (I/(k IB))^2 - theta, relative tolerance 1e-12"
	iec947   = "IEC 60947-4-1, trip classes at 7.2 Ie from cold, read from secondary sources"
)

// Checks returns this package's computed quantities with the outside values
// they are compared with.
func Checks() []check.Quantity {
	return []check.Quantity{
		coldCheck(), hotCheck(), stepCheck(), headroomCheck(),
		classCheck(), fullLoadCheck(),
	}
}

func coldCheck() check.Quantity {
	six, _ := ColdTripS(320, 1.05, 6)
	c := func(name string, want, tau, kIB, a float64) check.Case {
		got, _ := ColdTripS(tau, kIB, a)
		return check.Case{Name: name, Want: want, Got: got, Source: solved, Origin: check.Library}
	}
	return check.Quantity{
		Name: "trip time from cold", Func: "motor.ColdTripS", Unit: "s",
		Formula: "tau ln(I^2/(I^2 - (k IB)^2))", Range: "I above k IB, up to 900 k IB; tau 1..36000 s",
		Source: iec149,
		// The solver's error adds up over its steps.
		Tol: 1e-9,
		Cases: []check.Case{
			c("tau 600 s, kIB 20 A, 30 A", 352.6719989413, 600, 20, 30),
			c("tau 600 s, 1.1 kIB", 1050.7608647240, 600, 1, 1.1),
			c("tau 600 s, 2 kIB", 172.6092434711, 600, 1, 2),
			c("tau 300 s, 7.2 kIB", 5.8435817168, 300, 1, 7.2),
			c("tau 1200 s, 6 kIB", 33.8050523600, 1200, 1, 6),
			// 32 has two figures.
			{Name: "tau 32 times 10 s, six times the current at k 1.05: 10 s", Want: 10, Got: six, Tol: 0.5 / 32,
				Source: "time constant of 32 times the time allowed at six times the current, common practice, no source", Origin: check.Practice},
		},
	}
}

func hotCheck() check.Quantity {
	c := func(name string, want, tau, kIB, a, prior float64) check.Case {
		got, _ := HotTripS(tau, kIB, a, prior)
		return check.Case{Name: name, Want: want, Got: got, Source: solved, Origin: check.Library}
	}
	return check.Quantity{
		Name: "trip time from a steady load", Func: "motor.HotTripS", Unit: "s",
		Formula: "tau ln((I^2 - Ip^2)/(I^2 - (k IB)^2))", Range: "as the cold curve; Ip 0..k IB",
		Source: iec149 + " (the hot form from memory)", Tol: 1e-9,
		Cases: []check.Case{
			c("tau 600 s, kIB 20 A, 30 A after 16 A", 151.8543766063, 600, 20, 30, 16),
			c("tau 300 s, 1.35 kIB after 0.9", 62.3487949025, 300, 1, 1.35, 0.9),
			c("tau 1200 s, 7.2 kIB after 0.9", 4.4762985056, 1200, 1, 7.2, 0.9),
		},
	}
}

func stepCheck() check.Quantity {
	o, _ := NewOverload(OverloadConfig{RatedA: 20, K: 1, TauS: 600})
	s, _ := o.Step(OverloadState{}, 30, 352.672)
	cold, _ := o.Step(OverloadState{}, 30, 200)
	warm, _ := o.Step(OverloadState{Theta: 0.2}, 16, 900)
	return check.Quantity{
		Name: "used thermal capacity", Func: "motor.Overload.Step", Unit: "1",
		Formula: "theta + ((I/(k IB))^2 - theta)(1 - exp(-dt/tau))", Range: "as the cold curve; dt 0..86400 s",
		Source: iec149, Tol: 1e-9,
		Cases: []check.Case{
			{Name: "at the trip time of the worked example", Want: 1, Got: s.Theta, Origin: check.Arithmetic, Tol: 2e-6},
			{Name: "200 s at 30 A from cold", Want: 0.6378045512, Got: cold.Theta, Source: solved, Origin: check.Library},
			{Name: "900 s at 16 A from 0.2", Want: 0.5418227295, Got: warm.Theta, Source: solved, Origin: check.Library},
		},
	}
}

func headroomCheck() check.Quantity {
	o, _ := NewOverload(OverloadConfig{RatedA: 20, K: 1, TauS: 600})
	s, _ := o.Step(OverloadState{}, 16, 86400)
	h, _ := o.Headroom(s)
	w, _ := o.Step(OverloadState{Theta: 0.2}, 16, 900)
	warm, _ := o.Headroom(w)
	return check.Quantity{
		Name: "unused thermal capacity", Func: "motor.Overload.Headroom", Unit: "1",
		Formula: "1 - theta", Range: "0..1", Source: "IEC 60255-149: the steady thermal level is (I/(k IB))^2", Tol: 1e-12,
		Cases: []check.Case{
			{Name: "steady at 0.8 k IB", Want: 0.36, Got: h, Origin: check.Arithmetic},
			{Name: "900 s at 16 A from 0.2: 1 - 0.5418227295", Want: 1 - 0.5418227295, Got: warm, Source: solved, Origin: check.Library, Tol: 1e-9},
		},
	}
}

func classCheck() check.Quantity {
	at := func(c Class, k float64, hi bool) float64 {
		lo, up, _ := TauForClass(c, k)
		if hi {
			lo = up
		}
		s, _ := ColdTripS(lo, float64(k*10), 72)
		return s
	}
	k := func(name string, want float64, c Class, f float64, hi bool, o check.Origin) check.Case {
		return check.Case{Name: name, Want: want, Got: at(c, f, hi), Origin: o}
	}
	return check.Quantity{
		Name: "trip time at 7.2 times the setting", Func: "motor.TauForClass", Unit: "s",
		Formula: "tau = t/ln(u/(u - 1)), u = (7.2/k)^2", Range: "k 1.05..1.20",
		Source: iec947, Tol: 1e-9,
		Cases: []check.Case{
			k("class 10A, lower", 2, Class10A, 1.05, false, check.Memory),
			k("class 10, lower", 4, Class10, 1.1, false, check.Published),
			k("class 10, upper", 10, Class10, 1.2, true, check.Published),
			k("class 20, lower", 6, Class20, 1.1, false, check.Published),
			k("class 20, upper", 20, Class20, 1.05, true, check.Published),
			k("class 30, lower", 9, Class30, 1.2, false, check.Published),
			k("class 30, upper", 30, Class30, 1.1, true, check.Published),
		},
	}
}

func fullLoadCheck() check.Quantity {
	c := func(name string, want, hp, volts float64) check.Case {
		got, _ := FullLoadA(float64(hp*WPerHP), volts)
		return check.Case{Name: name, Want: want, Got: got, Origin: check.Published}
	}
	return check.Quantity{
		Name: "full-load current, single phase", Func: "motor.FullLoadA", Unit: "A",
		Formula: "table", Range: "1/6..10 hp; 110-120, 200, 208, 220-240 V", Source: table248, Tol: 1e-12,
		Cases: []check.Case{
			c("1/2 hp, 115 V", 9.8, 0.5, 115),
			c("1 hp, 120 V", 16, 1, 120),
			c("1.5 hp, 115 V", 20, 1.5, 115),
			c("2 hp, 208 V", 13.2, 2, 208),
			c("5 hp, 240 V", 28, 5, 240),
			c("10 hp, 200 V", 57.5, 10, 200),
		},
	}
}
