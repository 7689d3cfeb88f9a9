package cavitation

import (
	"math"

	"headroom/rules/check"
)

const (
	m3sPerGpm = 6.30901964e-5
	mPerIn    = 0.0254

	gpsa = "GPSA Engineering Data Book, reciprocating pump example (2 in x 5 in triplex, 360 rpm), from memory"
)

// Checks returns the quantities that this package computes, with what they
// were compared with. Grades and causes are no quantities: the table of the
// package's tests names the sources of those.
func Checks() []check.Quantity {
	const d = math.Pi / 4 * 2 * 2 * 5 * 3 * mPerIn * mPerIn * mPerIn // three plungers of 2 in x 5 in
	ideal := func(efficiency float64) float64 { return orNaN(IdealFlowM3s(d, 6, efficiency)) / m3sPerGpm }
	return []check.Quantity{
		{
			Name: "flow of a sound pump", Func: "cavitation.IdealFlowM3s", Unit: "gpm",
			Formula: "displacement x speed x volumetric efficiency", Range: "0 to 200 rev/s",
			Source: "definition of the volumetric efficiency", Tol: 1e-4,
			Cases: []check.Case{
				{Name: "the same at 360 rpm, no slip", Want: 73.44, Got: ideal(1), Source: "A s n N/231 worked by hand", Origin: check.Arithmetic},
				// Printed to the whole gallon.
				{Name: "the same as delivered, volumetric efficiency 0.994", Want: 73, Got: ideal(0.994), Source: gpsa, Origin: check.Memory, Tol: 0.007},
			},
		},
		{
			Name: "missing share", Func: "cavitation.Shortfall", Unit: "1",
			Formula: "1 - measured/expected", Range: "-10 to 1", Source: "definition", Tol: 1e-9, Floor: 1e-3,
			Cases: []check.Case{
				{Name: "the 3 percent capacity drop of NPSHR", Want: 0.03, Got: orNaN(Shortfall(100, 97)),
					Source: "Hydraulic Institute, NPSHR of reciprocating pumps, from memory", Origin: check.Memory},
				{Name: "more than expected", Want: -0.1, Got: orNaN(Shortfall(10, 11)), Origin: check.Arithmetic},
			},
		},
		{
			Name: "rise over the baseline", Func: "cavitation.Rise", Unit: "1",
			Formula: "value/baseline", Range: "0 to 10000", Source: "definition", Tol: 1e-12,
			Cases: []check.Case{
				{Name: "500 Pa over a baseline of 200 Pa", Want: 2.5, Got: orNaN(Rise(500, 200)), Origin: check.Arithmetic},
			},
		},
	}
}

// orNaN returns a value that was answered and NaN where it was refused, so
// that a refusal fails the check.
func orNaN(v float64, ok bool) float64 {
	if !ok {
		return math.NaN()
	}
	return v
}
