package air

import (
	"math"

	"headroom/rules/check"
)

const us1976 = "US Standard Atmosphere 1976 (same layer in ISO 2533:1975)"

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
	return []check.Quantity{geopotentialCheck(), geometricCheck(), altitudeCheck()}
}

func geopotentialCheck() check.Quantity {
	p := func(m float64) float64 { return valid(PressureAtGeopotentialPa(m)) }
	return check.Quantity{
		Name: "air pressure at geopotential altitude", Func: "air.PressureAtGeopotentialPa", Unit: "Pa",
		Formula: "p = 101325 (1 - 0.0065 H/288.15)^(g0 M/(R L))",
		Range:   "-500 m to 11000 m", Source: us1976,
		// Half a unit of the last of six printed digits, at worst.
		Tol: 5e-6,
		Cases: []check.Case{
			{Name: "sea level", Want: 101325, Got: p(0)},
			{Name: "1000 m", Want: 89874.6, Got: p(1000), Source: us1976 + ", secondary: as copied in the test tables of public libraries"},
			{Name: "2000 m", Want: 79495.2, Got: p(2000), Source: us1976 + ", secondary: as copied in the test tables of public libraries"},
			{Name: "11000 m", Want: 22632.06, Got: p(11000), Origin: check.Memory,
				Source: us1976 + ", base of the layer above"},
			{Name: "5000 m", Want: 54019.9, Got: p(5000), Origin: check.Memory},
			{Name: "5000 ft", Want: 84307.3, Got: p(5000 * 0.3048), Origin: check.Arithmetic},
		},
	}
}

func geometricCheck() check.Quantity {
	p := func(m float64) float64 { return valid(PressureAtGeometricPa(m)) }
	return check.Quantity{
		Name: "air pressure at geometric altitude", Func: "air.PressureAtGeometricPa", Unit: "Pa",
		Formula: "as at the geopotential altitude H = r0 Z/(r0 + Z), r0 = 6356766 m",
		Range:   "-500 m to 11000 m", Source: us1976 + " Table I",
		// Half a unit of the last of five printed digits, at worst.
		Tol: 5e-5,
		Cases: []check.Case{
			{Name: "sea level", Want: 101325, Got: p(0), Tol: 1e-12},
			{Name: "1000 m", Want: 89876, Got: p(1000), Origin: check.Memory},
			{Name: "2000 m", Want: 79501, Got: p(2000), Origin: check.Memory},
			{Name: "3000 m", Want: 70121, Got: p(3000), Origin: check.Memory},
			{Name: "5000 m", Want: 54048, Got: p(5000), Origin: check.Memory},
			{Name: "10000 m", Want: 26500, Got: p(10000), Origin: check.Memory},
			{Name: "3000 m, more digits", Want: 70121.16, Got: p(3000), Origin: check.Arithmetic, Tol: 5e-7},
		},
	}
}

func altitudeCheck() check.Quantity {
	h := func(m float64) float64 { return valid(GeopotentialM(m)) }
	return check.Quantity{
		Name: "geopotential altitude", Func: "air.GeopotentialM", Unit: "m",
		Formula: "H = r0 Z/(r0 + Z), r0 = 6356766 m", Range: "-500 m to 11000 m",
		Source: us1976 + " Table I", // Half a unit of the last of four printed digits, at worst.
		Tol:    5e-4,
		Cases: []check.Case{
			{Name: "1000 m", Want: 1000, Got: h(1000), Origin: check.Memory},
			{Name: "5000 m", Want: 4996, Got: h(5000), Origin: check.Memory},
			{Name: "10000 m", Want: 9984, Got: h(10000), Origin: check.Memory},
			{Name: "11000 m", Want: 10981, Got: h(11000), Origin: check.Memory},
		},
	}
}
