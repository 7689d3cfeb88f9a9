package hydraulics

import (
	"math"

	"headroom/rules/check"
)

// The sources that several checks share. fluidsLib and epanet are independent
// programs, run with the conditions that each case names; nothing of theirs is
// part of this project.
const (
	fluidsLib = "Python library fluids 1.0.22 (Debian python3-fluids)"
	epanet    = "EPANET engine of the US EPA (npm epanet-js 0.9.0), steady run of one pipe"
	white     = "White, Fluid Mechanics, example of 6 in asphalted cast iron, from memory"
	craneB14  = "Crane, Flow of Fluids (TP 410), table of water in schedule 40 pipe, from memory"
)

// The units of the sources.
const (
	paPerPsi  = 6894.757293168361
	mPerFt    = 0.3048
	m3sPerGpm = 6.30901964e-5
	mPerIn    = 0.0254
)

// Checks returns what this package computes, with what it was compared with.
func Checks() []check.Quantity {
	return []check.Quantity{
		velocityCheck(), reynoldsCheck(), laminarCheck(), turbulentCheck(),
		frictionCheck(), pipeLossCheck(), hoseTableCheck(), minorLossCheck(),
		flowForLossCheck(),
	}
}

func velocityCheck() check.Quantity {
	fts := func(gpm, in float64) float64 { return orNaN(VelocityMS(gpm*m3sPerGpm, in*mPerIn)) / mPerFt }
	return check.Quantity{
		Name: "mean velocity in a line", Func: "hydraulics.VelocityMS", Unit: "ft/s",
		Formula: "V = q / (pi/4 D^2)", Range: "flow 0 or more, bore above 0",
		Source: "continuity", Tol: 1e-5,
		Cases: []check.Case{
			{Name: "10 gpm, 0.75 in", Want: 7.26218, Got: fts(10, 0.75), Source: epanet, Origin: check.Library},
			{Name: "100 gpm, 2.067 in", Want: 9.56112, Got: fts(100, 2.067), Source: epanet, Origin: check.Library},
			{Name: "100 gpm, 2.067 in, as printed", Want: 9.56, Got: fts(100, 2.067), Source: craneB14, Origin: check.Memory, Tol: 6e-4},
		},
	}
}

func reynoldsCheck() check.Quantity {
	// White's example gives 1.1e-5 ft2/s for water: any density does.
	w := Water{DensityKgM3: 1000, ViscosityPaS: 1000 * 1.1e-5 * mPerFt * mPerFt}
	lib := Water{DensityKgM3: 998.206092, ViscosityPaS: 0.00100159685}
	v := orNaN(VelocityMS(10*m3sPerGpm, Bore34InM))
	return check.Quantity{
		Name: "Reynolds number", Func: "hydraulics.Reynolds", Unit: "1",
		Formula: "Re = rho V D / mu", Range: "all positive", Source: "definition", Tol: 1e-9,
		Cases: []check.Case{
			{Name: "6 ft/s in 6 in, 1.1e-5 ft2/s (printed as 270000)", Want: 270000,
				Got: orNaN(Reynolds(6*mPerFt, 0.5*mPerFt, w)), Source: white, Origin: check.Memory, Tol: 0.02},
			{Name: "10 gpm of 20 C water in 0.75 in", Want: 42024.667306941425,
				Got: orNaN(Reynolds(v, Bore34InM, lib)), Source: fluidsLib, Origin: check.Library},
		},
	}
}

func laminarCheck() check.Quantity {
	return check.Quantity{
		Name: "laminar friction factor", Func: "hydraulics.LaminarFriction", Unit: "1",
		Formula: "f = 64/Re", Range: "Re above 0 to 2300", Source: "Hagen-Poiseuille", Tol: 1e-12,
		Cases: []check.Case{
			{Name: "Re 128", Want: 0.5, Got: orNaN(LaminarFriction(128)), Source: fluidsLib, Origin: check.Library},
			{Name: "Re 2000, read from the Moody chart", Want: 0.032, Got: orNaN(LaminarFriction(2000)),
				Source: "Moody chart, from memory", Origin: check.Memory, Tol: 0.02},
		},
	}
}

func turbulentCheck() check.Quantity {
	q := check.Quantity{
		Name: "turbulent friction factor", Func: "hydraulics.TurbulentFriction", Unit: "1",
		Formula: "1/sqrt(f) = -2 log10(e/(3.7 D) + 2.51/(Re sqrt(f)))",
		Range:   "Re 4000 to 1e8, relative roughness 0 to 0.05",
		Source:  "Colebrook 1939; form as in Clamond 2009",
		// Both sides solve one equation, so that only rounding may differ.
		Tol: 1e-11,
	}
	for _, c := range []struct {
		name          string
		re, rel, want float64
	}{
		{"Re 4e3, smooth", 4e3, 0, 0.03990701405563491},
		{"Re 4e3, 0.05", 4e3, 0.05, 0.07698683488922486},
		{"Re 1e4, smooth", 1e4, 0, 0.030882950353487693},
		{"Re 1e4, 1e-3", 1e4, 1e-3, 0.03238180636309272},
		{"Re 5e4, 8e-4", 5e4, 8e-4, 0.023459865689572253},
		{"Re 1e5, 1e-4", 1e5, 1e-4, 0.01851386607747165},
		{"Re 1e6, 1e-5", 1e6, 1e-5, 0.01186954482794496},
		{"Re 1e7, smooth", 1e7, 0, 0.00810266943087491},
		{"Re 1e7, 0.05", 1e7, 0.05, 0.07155298184086675},
	} {
		q.Cases = append(q.Cases, check.Case{Name: c.name, Want: c.want,
			Got: orNaN(TurbulentFriction(c.re, c.rel)), Source: fluidsLib, Origin: check.Library})
	}
	// Read from a chart: half a unit of the last figure read.
	q.Cases = append(q.Cases,
		check.Case{Name: "smooth, Re 1e5", Want: 0.0180, Got: orNaN(TurbulentFriction(1e5, 0)),
			Source: "Moody chart, from memory", Origin: check.Memory, Tol: 0.003},
		check.Case{Name: "smooth, Re 1e6", Want: 0.0116, Got: orNaN(TurbulentFriction(1e6, 0)),
			Source: "Moody chart, from memory", Origin: check.Memory, Tol: 0.0045},
		check.Case{Name: "Re 270000, 8e-4", Want: 0.020, Got: orNaN(TurbulentFriction(2.7e5, 8e-4)),
			Source: white, Origin: check.Memory, Tol: 0.025})
	return q
}

func frictionCheck() check.Quantity {
	f := func(re, rel float64) float64 {
		v, _, ok := Friction(re, rel)
		return orNaN(v, ok)
	}
	return check.Quantity{
		Name: "friction factor over the whole chart", Func: "hydraulics.Friction", Unit: "1",
		Formula: "64/Re to 2300, Colebrook-White from 4000, a straight line in Re between",
		Range:   "Re above 0 to 1e8, relative roughness 0 to 0.05",
		Source:  "as its two formulas; the line between is a choice of this project",
		Tol:     1e-11,
		Cases: []check.Case{
			{Name: "Re 2300", Want: 64.0 / 2300, Got: f(2300, 0), Source: "Hagen-Poiseuille", Origin: check.Arithmetic},
			{Name: "Re 4000, smooth", Want: 0.03990701405563491, Got: f(4000, 0), Source: fluidsLib, Origin: check.Library},
			{Name: "Re 3150, the middle of the line, smooth", Want: (64.0/2300 + 0.03990701405563491) / 2,
				Got: f(3150, 0), Source: "mean of the two ends", Origin: check.Arithmetic},
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
