package suction

import "headroom/rules/check"

func requiredCheck() check.Quantity {
	r, err := NewRequired([]Point{{SpeedHz: 5, NPSHRM: 2}, {SpeedHz: 10, NPSHRM: 4}, {SpeedHz: 20, NPSHRM: 9}})
	at := func(hz float64) float64 {
		m, basis := r.AtM(hz)
		return orNaN(m, err == nil && basis != NoBasis)
	}
	return check.Quantity{
		Name: "net positive suction head required", Func: "suction.Required.AtM", Unit: "m",
		Formula: "a straight line between the pump's points", Range: "up to the fastest point",
		Source: "linear interpolation", Tol: 1e-12,
		Cases: []check.Case{
			{Name: "on a point", Want: 4, Got: at(10), Origin: check.Arithmetic},
			{Name: "half way", Want: 3, Got: at(7.5), Origin: check.Arithmetic},
			{Name: "a fifth of the way", Want: 5, Got: at(12), Origin: check.Arithmetic},
			{Name: "slower than the slowest", Want: 2, Got: at(1), Origin: check.Arithmetic},
		},
	}
}

// marginLeft is the margin in m of a pump that requires npshrM, its line at
// rest.
func marginLeft(in Inlet, npshrM float64) float64 {
	return MarginM(orNaN(AvailableM(in)), 0, npshrM)
}

// marginCheck is the 70 F example with the data book's short line and a pump
// that requires 10 ft.
func marginCheck() check.Quantity {
	a, ok := Accelerate(gpsaLine(4, 1.84))
	available := orNaN(AvailableM(example(30, 14.6959, 0.363340607, 997.970506, 5)))
	return check.Quantity{
		Name: "margin over NPSHR", Func: "suction.MarginM", Unit: "ft",
		Formula: "NPSHA - acceleration head - NPSHR",
		Range:   "as its parts", Source: "Hydraulic Institute, from memory", Tol: 2e-4,
		Cases: []check.Case{
			{Name: "102.8567 - 3.8823 - 10 ft", Want: 88.9744, Got: MarginM(available, orNaN(a.HeadM, ok), 10*ft) / ft, Source: "sum of the two worked examples", Origin: check.Arithmetic},
		},
	}
}

func vapourCheck() check.Quantity {
	kPa := func(in Inlet, npshrM float64) float64 {
		return VapourPressureAtLimitPa(in.VapourPa, marginLeft(in, npshrM), in.DensityKgM3) / 1e3
	}
	open := Inlet{AirPa: 101325, DensityKgM3: 1000}
	return check.Quantity{
		Name: "vapour pressure at which the margin is gone", Func: "suction.VapourPressureAtLimitPa", Unit: "kPa abs",
		Formula: "p_vapour + margin rho g",
		Range:   "as its parts", Source: "AvailableM", Tol: 2e-4,
		Cases: []check.Case{
			// The printed 0.1 m is 0.49 kPa either way.
			{Name: "open water, NPSHR 8.3 m: 60 C", Want: 20, Got: kPa(open, 8.3), Source: liftTab, Origin: check.Memory, Tol: 0.025},
			{Name: "open water, NPSHR 5.5 m: 80 C", Want: 47.5, Got: kPa(open, 5.5), Source: liftTab, Origin: check.Memory, Tol: 0.0104},
			{Name: "5 inHg of suction, 5 ft/s, NPSHR 22.3171 ft: 140 F", Want: 19.9458019,
				Got: kPa(example(-2.456, 14.6959, 0, 983.21061, 5), 22.3171*ft), Source: if97, Origin: check.Arithmetic},
		},
	}
}

func gaugeCheck() check.Quantity {
	const airPsi = 14.6959
	gaugePsi := func(in Inlet, npshrM float64) float64 {
		return GaugeAtLimitPa(in.GaugePa, marginLeft(in, npshrM), in.DensityKgM3) / psi
	}
	open := func(vapourKPa, npshrM float64) float64 {
		return gaugePsi(Inlet{AirPa: 101325, VapourPa: vapourKPa * 1e3, DensityKgM3: 1000}, npshrM)
	}
	return check.Quantity{
		Name: "inlet pressure at which the margin is gone", Func: "suction.GaugeAtLimitPa", Unit: "psi gauge",
		Formula: "p_gauge - margin rho g",
		Range:   "as its parts", Source: "AvailableM", Tol: 1e-5,
		// A wanted 0 psi gauge is compared with the air that stands behind it.
		Floor: airPsi,
		Cases: []check.Case{
			// Printed to 0.1 m of some 10 m.
			{Name: "20 C, open water, NPSHR 10.1 m: 0 psi", Want: 0, Got: open(2.3, 10.1), Source: liftTab, Origin: check.Memory, Tol: 0.006},
			{Name: "60 C, open water, NPSHR 8.3 m: 0 psi", Want: 0, Got: open(20, 8.3), Source: liftTab, Origin: check.Memory, Tol: 0.006},
			{Name: "80 C, open water, NPSHR 5.5 m: 0 psi", Want: 0, Got: open(47.5, 5.5), Source: liftTab, Origin: check.Memory, Tol: 0.006},
			{Name: "70 F, NPSHR 31.3507 m, 5 ft/s", Want: 30, Got: gaugePsi(example(0, 14.6959, 0.363340607, 997.970506, 5), 31.3507), Source: if97, Origin: check.Arithmetic},
			{Name: "140 F, NPSHR 22.3171 ft, 5 ft/s", Want: -2.456, Got: gaugePsi(example(0, 14.6959, 2.89289399, 983.21061, 5), 22.3171*ft), Source: if97, Origin: check.Arithmetic},
		},
	}
}
