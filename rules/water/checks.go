package water

import (
	"math"

	"headroom/rules/check"
)

const (
	if97      = "IAPWS R7-97(2012)"
	viscRel   = "IAPWS R12-08"
	region1In = "273.15 K to 623.15 K, saturation pressure to 100 MPa"
	// nineDigits is half a unit of the last of nine printed digits, at worst.
	nineDigits = 5e-9
	// otherFormulation is allowed for tables made from IAPWS-95 or its
	// predecessors, which part from IF97 in the fifth digit of the saturation
	// pressure.
	otherFormulation = 1e-4
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
	return append(saturationChecks(),
		volumeCheck(), enthalpyCheck(), heatCheck(), soundCheck(), densityCheck(),
		viscosityCheck(), liquidViscosityCheck())
}

func saturationChecks() []check.Quantity {
	ps := func(k float64) float64 { return valid(SatPressurePa(k)) }
	ts := func(pa float64) float64 { return valid(SatTempK(pa)) }
	return []check.Quantity{{
		Name: "saturation pressure", Func: "water.SatPressurePa", Unit: "Pa",
		Formula: "one quadratic in the shifted temperature, to the fourth power, eq. 30",
		Range:   "273.15 K to 647.096 K", Source: if97 + " Table 35", Tol: nineDigits,
		Cases: []check.Case{
			{Name: "300 K", Want: 0.353658941e-2 * 1e6, Got: ps(300)},
			{Name: "500 K", Want: 2.63889776e6, Got: ps(500)},
			{Name: "600 K", Want: 12.3443146e6, Got: ps(600)},
			{Name: "25 C", Want: 3169.9, Got: ps(298.15), Tol: otherFormulation, Origin: check.Memory,
				Source: "CRC Handbook of Chemistry and Physics, vapour pressure of water"},
			{Name: "100 C", Want: 101.42e3, Got: ps(373.15), Tol: otherFormulation, Origin: check.Memory,
				Source: "CRC Handbook of Chemistry and Physics, vapour pressure of water"},
			{Name: "60 C", Want: 19945.8019, Got: ps(333.15), Origin: check.Library,
				Source: "python3-iapws 1.5.2"},
			{Name: "critical point, 647.096 K", Want: 22.064e6, Got: ps(647.096), Tol: 3e-5,
				Source: if97 + ", critical pressure; five digits"},
		},
	}, {
		Name: "saturation temperature", Func: "water.SatTempK", Unit: "K",
		Formula: "the same quadratic solved for temperature, eq. 31",
		Range:   "611.2127 Pa to 22.064 MPa", Source: if97 + " Table 36", Tol: nineDigits,
		Cases: []check.Case{
			{Name: "0.1 MPa", Want: 372.755919, Got: ts(0.1e6)},
			{Name: "1 MPa", Want: 453.035632, Got: ts(1e6)},
			{Name: "10 MPa", Want: 584.149488, Got: ts(10e6)},
			{Name: "101325 Pa", Want: 373.1243, Got: ts(101325), Tol: 2e-7, Origin: check.Library,
				Source: "python3-iapws 1.5.2; not 373.15 K"},
		},
	}}
}

func volumeCheck() check.Quantity {
	v := func(k, pa float64) float64 { return valid(SpecificVolumeM3Kg(k, pa)) }
	return check.Quantity{
		Name: "specific volume of liquid water", Func: "water.SpecificVolumeM3Kg", Unit: "m3/kg",
		Formula: "v = (R T/p) pi dgamma/dpi", Range: region1In,
		Source: if97 + " Table 5", Tol: nineDigits,
		Cases: []check.Case{
			{Name: "300 K, 3 MPa", Want: 0.100215168e-2, Got: v(300, 3e6)},
			{Name: "300 K, 80 MPa", Want: 0.971180894e-3, Got: v(300, 80e6)},
			{Name: "500 K, 3 MPa", Want: 0.120241800e-2, Got: v(500, 3e6)},
		},
	}
}

func enthalpyCheck() check.Quantity {
	h := func(k, pa float64) float64 { return valid(EnthalpyJKg(k, pa)) }
	return check.Quantity{
		Name: "specific enthalpy of liquid water", Func: "water.EnthalpyJKg", Unit: "J/kg",
		Formula: "h = R T tau dgamma/dtau", Range: region1In,
		Source: if97 + " Table 5", Tol: nineDigits,
		Cases: []check.Case{
			{Name: "300 K, 3 MPa", Want: 115.331273e3, Got: h(300, 3e6)},
			{Name: "300 K, 80 MPa", Want: 184.142828e3, Got: h(300, 80e6)},
			{Name: "500 K, 3 MPa", Want: 975.542239e3, Got: h(500, 3e6)},
		},
	}
}

func heatCheck() check.Quantity {
	cp := func(k, pa float64) float64 { return valid(SpecificHeatJKgK(k, pa)) }
	return check.Quantity{
		Name: "isobaric heat capacity of liquid water", Func: "water.SpecificHeatJKgK", Unit: "J/(kg K)",
		Formula: "cp = -R tau^2 d2gamma/dtau2", Range: region1In,
		Source: if97 + " Table 5", Tol: nineDigits,
		Cases: []check.Case{
			{Name: "300 K, 3 MPa", Want: 4.17301218e3, Got: cp(300, 3e6)},
			{Name: "300 K, 80 MPa", Want: 4.01008987e3, Got: cp(300, 80e6)},
			{Name: "500 K, 3 MPa", Want: 4.65580682e3, Got: cp(500, 3e6)},
			{Name: "25 C, 101325 Pa", Want: 4181.89623, Got: cp(298.15, 101325),
				Origin: check.Library, Source: "python3-iapws 1.5.2"},
		},
	}
}

func soundCheck() check.Quantity {
	w := func(k, pa float64) float64 { return valid(SoundSpeedMS(k, pa)) }
	return check.Quantity{
		Name: "speed of sound in liquid water", Func: "water.SoundSpeedMS", Unit: "m/s",
		Formula: "from the second derivatives of gamma, Table 3", Range: region1In,
		Source: if97 + " Table 5", Tol: nineDigits,
		Cases: []check.Case{
			{Name: "300 K, 3 MPa", Want: 1507.73921, Got: w(300, 3e6)},
			{Name: "300 K, 80 MPa", Want: 1634.69054, Got: w(300, 80e6)},
			{Name: "500 K, 3 MPa", Want: 1240.71337, Got: w(500, 3e6)},
			{Name: "20 C, 101325 Pa", Want: 1482.34, Got: w(293.15, 101325), Tol: 1e-3,
				Origin: check.Library, Source: "python3-iapws 1.5.2, IAPWS-95, another formulation; allowed 0.1 %, the uncertainty band R7-97 gives for w"},
		},
	}
}

func densityCheck() check.Quantity {
	rho := func(k, pa float64) float64 { return valid(DensityKgM3(k, pa)) }
	return check.Quantity{
		Name: "density of liquid water", Func: "water.DensityKgM3", Unit: "kg/m3",
		Formula: "1/v", Range: region1In, Source: "python3-iapws 1.5.2", Tol: nineDigits,
		Cases: []check.Case{
			{Name: "25 C, 101325 Pa", Want: 997.048032, Got: rho(298.15, 101325), Origin: check.Library},
			{Name: "60 C, 101325 Pa", Want: 983.21061, Got: rho(333.15, 101325), Origin: check.Library},
			{Name: "20 C, 101325 Pa, IAPWS-95", Want: 998.207150, Got: rho(293.15, 101325), Tol: 1e-5,
				Origin: check.Library, Source: "python3-iapws 1.5.2, IAPWS-95, another formulation; allowed 0.001 %"},
			{Name: "20 C, 101325 Pa, air-free", Want: 998.2067, Got: rho(293.15, 101325), Tol: 1e-5,
				Origin: check.Memory, Source: "Tanaka and others, Metrologia 38 (2001), recommended density table; allowed 0.001 %"},
			{Name: "4 C, 101325 Pa, air-free", Want: 999.9749, Got: rho(277.15, 101325), Tol: 1e-5,
				Origin: check.Memory, Source: "Tanaka and others, Metrologia 38 (2001), recommended density table; allowed 0.001 %"},
		},
	}
}

func viscosityCheck() check.Quantity {
	q := check.Quantity{
		Name: "viscosity of water at a density", Func: "water.ViscosityAtDensityPaS", Unit: "Pa s",
		Formula: "mu = mu* mu0(T) mu1(T, rho), critical enhancement 1",
		Range:   "273.15 K to 1173.15 K, up to 1200 kg/m3", Source: viscRel + " Table 4",
		// The shortest printed value has eight digits.
		Tol: 5e-8,
	}
	for _, r := range []struct {
		name         string
		k, rho, want float64
	}{
		{"298.15 K, 998 kg/m3", 298.15, 998, 889.735100},
		{"298.15 K, 1200 kg/m3", 298.15, 1200, 1437.649467},
		{"373.15 K, 1000 kg/m3", 373.15, 1000, 307.883622},
		{"433.15 K, 1 kg/m3", 433.15, 1, 14.538324},
		{"433.15 K, 1000 kg/m3", 433.15, 1000, 217.685358},
		{"873.15 K, 1 kg/m3", 873.15, 1, 32.619287},
		{"873.15 K, 100 kg/m3", 873.15, 100, 35.802262},
		{"873.15 K, 600 kg/m3", 873.15, 600, 77.430195},
		{"1173.15 K, 1 kg/m3", 1173.15, 1, 44.217245},
		{"1173.15 K, 100 kg/m3", 1173.15, 100, 47.640433},
		{"1173.15 K, 400 kg/m3", 1173.15, 400, 64.154608},
	} {
		q.Cases = append(q.Cases, check.Case{
			Name: r.name, Want: r.want * 1e-6, Got: valid(ViscosityAtDensityPaS(r.k, r.rho)),
		})
	}
	return q
}

func liquidViscosityCheck() check.Quantity {
	mu := func(k, pa float64) float64 { return valid(ViscosityPaS(k, pa)) }
	return check.Quantity{
		Name: "viscosity of liquid water", Func: "water.ViscosityPaS", Unit: "Pa s",
		Formula: "mu(T, rho(T, p))", Range: region1In, Source: viscRel + " with " + if97, Tol: nineDigits,
		Cases: []check.Case{
			{Name: "25 C, 101325 Pa", Want: 0.890022367e-3, Got: mu(298.15, 101325),
				Origin: check.Library, Source: "python3-iapws 1.5.2"},
			{Name: "60 C, 101325 Pa", Want: 0.466043208e-3, Got: mu(333.15, 101325),
				Origin: check.Library, Source: "python3-iapws 1.5.2"},
			{Name: "20 C, 101325 Pa", Want: 1.0016e-3, Got: mu(293.15, 101325), Tol: 5e-5,
				Origin: check.Memory, Source: "ISO/TR 3666, reference value of water at 20 C, five digits"},
		},
	}
}
