package thermal

import "headroom/rules/check"

// Checks returns this package's computed quantities with the outside values
// they are compared with.
func Checks() []check.Quantity {
	return []check.Quantity{stepCheck(), timeCheck()}
}

func stepCheck() check.Quantity {
	c := func(name string, want, theta, target, dtS, tauS float64) check.Case {
		got, _ := Step(theta, target, dtS, tauS)
		return check.Case{Name: name, Want: want, Got: got, Origin: check.Memory}
	}
	return check.Quantity{
		Name: "relative temperature rise after a step", Func: "thermal.Step", Unit: "1",
		Formula: "theta + (target - theta)(1 - exp(-dt/tau))",
		Range:   "theta, target 0..1e6; dt 0..86400 s; tau 1e-3..1e6 s",
		Source:  "universal time constant table of electrical handbooks (63.2, 86.5, 95.0, 98.2, 99.3 % after 1 to 5 time constants)",
		Tol:     0.0005 / 0.632,
		Cases: []check.Case{
			c("1 time constant from cold", 0.632, 0, 1, 600, 600),
			c("2 time constants from cold", 0.865, 0, 1, 1200, 600),
			c("3 time constants from cold", 0.950, 0, 1, 1800, 600),
			c("4 time constants from cold", 0.982, 0, 1, 2400, 600),
			c("5 time constants from cold", 0.993, 0, 1, 3000, 600),
			c("cooling, 1 time constant", 0.368, 1, 0, 600, 600),
		},
	}
}

func timeCheck() check.Quantity {
	c := func(name string, want, theta, target, level, tauS float64) check.Case {
		got, _ := TimeTo(theta, target, level, tauS)
		return check.Case{Name: name, Want: want, Got: got, Origin: check.Memory}
	}
	return check.Quantity{
		Name: "time until a level is crossed", Func: "thermal.TimeTo", Unit: "s",
		Formula: "tau ln((target - theta)/(target - level))",
		Range:   "level between theta and target; tau 1e-3..1e6 s",
		Source:  "ln 2 = 0.693147 and ln 10 = 2.302585, mathematical tables",
		Tol:     1e-6,
		Cases: []check.Case{
			c("half way, tau 1 s", 0.693147, 0, 1, 0.5, 1),
			c("nine tenths, tau 1 s", 2.302585, 0, 1, 0.9, 1),
			c("cooling to a tenth, tau 1 s", 2.302585, 1, 0, 0.1, 1),
		},
	}
}
