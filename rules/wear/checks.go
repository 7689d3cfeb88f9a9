package wear

import (
	"math"

	"headroom/rules/check"
)

// Units of the sources, by definition.
const (
	inM    = 0.0254
	galM3  = 3.785411784e-3
	gpmM3s = galM3 / 60
	hours  = 3600
	bblM3  = 42 * galM3
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
		displacementCheck(), efficiencyCheck(), slipCheck(),
		expectedCheck(), lossCheck(), leakCheck(), intervalCheck(), counterCheck(),
	}
}

// gpsa is the worked example of a triplex pump: 2 in x 5 in, 360 rpm, 73 gpm.
const gpsa = "GPSA Engineering Data Book, reciprocating pump example, from memory"

// lapeyrouse is the oil field's formula for the same kind of pump.
const lapeyrouse = "Lapeyrouse, Formulas and Calculations for Drilling, Production and Workover, output of a triplex pump, 0.000243 d^2 s in bbl, from memory"

// triplexM3 is the displacement of that pump, per revolution.
func triplexM3() float64 { return valid(DisplacementM3(2*inM, 5*inM, 3)) }

func displacementCheck() check.Quantity {
	return check.Quantity{
		Name: "displacement", Func: "wear.DisplacementM3", Unit: "m3/rev",
		Formula: "D = pi/4 d^2 s n, single acting", Range: "up to 1 m, 1 to 12 plungers, up to 0.1 m3",
		Source: gpsa, Tol: 7e-5,
		Cases: []check.Case{
			{Name: "2 in x 5 in triplex at 360 rpm sweeps 73.44 gpm", Want: 73.44 * gpmM3s / 6,
				Got: triplexM3(), Origin: check.Arithmetic, Source: "A s n N/231, four digits"},
			// The factor is printed with three figures.
			{Name: "7 in x 12 in triplex: 0.142884 bbl", Want: 0.142884 * bblM3,
				Got: valid(DisplacementM3(7*inM, 12*inM, 3)), Source: lapeyrouse, Origin: check.Memory, Tol: 0.0021},
		},
	}
}

func efficiencyCheck() check.Quantity {
	return check.Quantity{
		Name: "volumetric efficiency", Func: "wear.VolumetricEfficiency", Unit: "1",
		Formula: "eta_v = Q/(D n)", Range: "0 to 1.1", Source: gpsa, Tol: 5.1e-4,
		Cases: []check.Case{
			{Name: "73 gpm of the triplex at 360 rpm: 0.994", Want: 0.994,
				Got: valid(VolumetricEfficiency(73*gpmM3s, triplexM3(), 6)), Origin: check.Memory},
		},
	}
}

func slipCheck() check.Quantity {
	return check.Quantity{
		Name: "slip flow", Func: "wear.SlipM3s", Unit: "m3/s",
		Formula: "Q_slip = D n - Q", Range: "efficiency 0 to 1.1", Source: gpsa,
		// Half a unit of 0.44 gpm.
		Tol: 0.012,
		Cases: []check.Case{
			{Name: "73 gpm of 73.44: 0.44 gpm", Want: 0.44 * gpmM3s,
				Got: valid(SlipM3s(73*gpmM3s, triplexM3(), 6)), Origin: check.Arithmetic},
			// 0.06 % between the factor and pi/4 is 1.2 % of a slip of 5 %, and
			// half of its last digit 4 %.
			{Name: "7 in x 12 in triplex at 95 %: 0.142884 - 0.135740 bbl a stroke", Want: (0.142884 - 0.135740) * bblM3,
				Got:    valid(SlipM3s(0.135740*bblM3, valid(DisplacementM3(7*inM, 12*inM, 3)), 1)),
				Source: lapeyrouse, Origin: check.Memory, Tol: 0.042},
		},
	}
}

// sampleBaseline is an invented machine at one speed and temperature.
func sampleBaseline() *Baseline {
	b := &Baseline{Tol: DefaultTolerance()}
	for _, p := range [3][2]float64{{5e6, 0.97}, {10e6, 0.955}, {15e6, 0.943}} {
		b.Add(Point{SpeedHz: 15, DropPa: p[0], TempK: 290, Efficiency: p[1]})
	}
	return b
}

func expectedCheck() check.Quantity {
	at := Point{SpeedHz: 15.1, DropPa: 12.5e6, TempK: 293}
	return check.Quantity{
		Name: "baseline efficiency at a state", Func: "wear.Baseline.Expected", Unit: "1",
		Formula: "straight line between neighbours in pressure", Range: "the baseline's pressures, never beyond",
		Source: "numpy.interp", Tol: 1e-12,
		Cases: []check.Case{
			{Name: "12.5 MPa between 10 and 15 MPa", Want: 0.949,
				Got: valid(sampleBaseline().Expected(at)), Origin: check.Library},
		},
	}
}

func lossCheck() check.Quantity {
	c := sampleBaseline().Compare(Point{SpeedHz: 15, DropPa: 10e6, TempK: 290, Efficiency: 0.8595})
	return check.Quantity{
		Name: "loss against the baseline", Func: "wear.Baseline.Compare", Unit: "1",
		Formula: "1 - eta/eta_baseline", Range: "states the baseline covers",
		Source: "definition of a relative loss", Tol: 1e-12,
		Cases: []check.Case{
			{Name: "0.8595 where it was 0.955: a tenth is gone", Want: 0.1, Got: c.Loss, Origin: check.Arithmetic},
		},
	}
}

// sampleEvidence is an invented set of readings; the same numbers went through
// numpy.
func sampleEvidence() *Evidence {
	e := &Evidence{SigmaM3s: 1e-7, PackingSeen: true}
	for _, r := range [6][3]float64{
		{4e6, 1.14e-3, 6.0e-6}, {7e6, 1.10e-3, 8.4e-6}, {10e6, 1.05e-3, 10.1e-6},
		{14e6, 1.0e-3, 12.3e-6}, {17e6, 1.0e-3, 13.8e-6}, {20e6, 0.95e-3, 15.5e-6},
	} {
		e.Add(Slip{DropPa: r[0], ViscosityPaS: r[1], SlipM3s: r[2]})
	}
	return e
}

func leakCheck() check.Quantity {
	l := sampleEvidence().Judge()
	return check.Quantity{
		Name: "slip of valves and of packing", Func: "wear.Evidence.Judge", Unit: "m3/s",
		Formula: "least squares of slip = a sqrt(dp) + b dp/mu", Range: "3 to 16 readings",
		Source: "numpy.linalg.lstsq on the same readings", Tol: 1e-9,
		Cases: []check.Case{
			{Name: "valves at 20 MPa", Want: 1.2405021790464548e-05, Got: l.ValveM3s, Origin: check.Library},
			{Name: "packing at 20 MPa", Want: 3.009768037141027e-06, Got: l.PackingM3s, Origin: check.Library},
			{Name: "standard deviations apart (unit 1)", Want: 18.26340288737064, Got: l.Sigmas, Origin: check.Library,
				Source: "numpy.linalg.inv, covariance of the fit"},
		},
	}
}

func intervalCheck() check.Quantity {
	oil := DefaultIntervals()[TaskOilChange]
	never := oil.Assess(Service{}, Counters{RunS: 40 * hours}, DefaultSoonFrac)
	done := oil.Assess(Service{Done: true, At: Counters{RunS: 52 * hours}},
		Counters{RunS: 60 * hours}, DefaultSoonFrac)
	return check.Quantity{
		Name: "running time left to a service", Func: "wear.Interval.Assess", Unit: "s",
		Formula: "last service + interval - now", Range: "0 to 1e10 s",
		Source: "oil after the first 50 h, then each 300 h; common practice, no source", Tol: 1e-12,
		Cases: []check.Case{
			{Name: "new pump at 40 h: 10 h left", Want: 10 * hours, Got: never.LeftS, Origin: check.Practice},
			{Name: "changed at 52 h, now 60 h: 292 h left", Want: 292 * hours, Got: done.LeftS, Origin: check.Practice},
		},
	}
}

func counterCheck() check.Quantity {
	c := Counters{}
	for range 36000 {
		c, _ = c.Advance(true, true, 0.1)
	}
	return check.Quantity{
		Name: "running time", Func: "wear.Counters.Advance", Unit: "s",
		Formula: "sum of the steps that ended running", Range: "0 to 1e10 s, steps to 60 s",
		Source: "36000 tenths of a second are an hour", Tol: 1e-9,
		Cases: []check.Case{{Name: "one hour at 10 Hz", Want: 3600, Got: c.RunS, Origin: check.Arithmetic}},
	}
}
