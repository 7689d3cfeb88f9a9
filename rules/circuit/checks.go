package circuit

import (
	"math"

	"headroom/rules/check"
)

const nec = "NFPA 70 (NEC)"

// Checks returns this package's computed quantities with the outside values
// they are compared with.
func Checks() []check.Quantity {
	return []check.Quantity{rmsCheck(), crestCheck(), limitCheck(), shareCheck(), leftCheck()}
}

// cycles samples n points per cycle of a wave over count cycles of 60 Hz.
// The wave is a function of the share of the cycle, 0 to 1.
func cycles(n, count int, wave func(float64) float64) Wave {
	x := make([]float64, n*count)
	for k := range x {
		x[k] = wave(float64(k%n) / float64(n))
	}
	return RMS(x, float64(60*n), 60)
}

// sine12 is the sine at multiples of a twelfth of the cycle, from the exact
// values of trigonometry.
func sine12(share float64) float64 {
	s := [12]float64{
		0, 0.5, math.Sqrt(3) / 2, 1, math.Sqrt(3) / 2, 0.5,
		0, -0.5, -math.Sqrt(3) / 2, -1, -math.Sqrt(3) / 2, -0.5,
	}
	return s[int(math.Floor(float64(share*12)+0.5))%12]
}

func square(share float64) float64 {
	if share < 0.5 {
		return 1
	}
	return -1
}

func triangle(share float64) float64 { return float64(4*math.Abs(share-0.5)) - 1 }

func halfSine(share float64) float64 { return math.Max(0, sine12(share)) }

func fullSine(share float64) float64 { return math.Abs(sine12(share)) }

func rmsCheck() check.Quantity {
	c := func(name string, want, got float64, o check.Origin) check.Case {
		return check.Case{Name: name, Want: want, Got: got, Origin: o}
	}
	offset := func(share float64) float64 { return 3 + float64(4*math.Sqrt2*sine12(share)) }
	return check.Quantity{
		Name: "true RMS of sampled current", Func: "circuit.RMS", Unit: "A",
		Formula: "sqrt(mean of squares over whole cycles)",
		Range:   "45..66 Hz; 12 samples a cycle or more; up to 1e6 A",
		Source:  "table of average and RMS values of common waveforms, electrical handbooks: sine 0.7071, square 1, triangle 0.577, half-wave 0.5 of the peak",
		// Half of the tables' last printed digit; the triangle is printed to three.
		Tol: 1e-4,
		Cases: []check.Case{
			c("sine of peak 1, 12 samples a cycle, 12 cycles", 0.7071, cycles(12, 12, sine12).RMSA, check.Memory),
			c("square of peak 1", 1, cycles(24, 3, square).RMSA, check.Memory),
			{Name: "triangle of peak 1, 200 samples a cycle", Want: 0.577, Got: cycles(200, 2, triangle).RMSA, Origin: check.Memory, Tol: 1e-3},
			c("half-wave rectified sine of peak 1", 0.5, cycles(12, 2, halfSine).RMSA, check.Memory),
			c("3 A direct and 4 A RMS alternating: 5 A", 5, cycles(12, 2, offset).RMSA, check.Arithmetic),
			c("the same without the direct current", 4, cycles(12, 2, offset).ACRMSA, check.Arithmetic),
			{Name: "mean of a full-wave rectified sine, 0.637 of the peak", Want: 0.637, Got: cycles(12, 2, fullSine).MeanA, Origin: check.Memory,
				// The mean of a rectified sine over 12 samples misses the
				// integral by (pi/12)^2/3.
				Tol: 0.0229 + 0.0005/0.637},
		},
	}
}

func crestCheck() check.Quantity {
	c := func(name string, want, got, tol float64) check.Case {
		return check.Case{Name: name, Want: want, Got: got, Origin: check.Memory, Tol: tol}
	}
	return check.Quantity{
		Name: "crest factor", Func: "circuit.Wave.Crest", Unit: "1", Formula: "peak/RMS",
		Range: "as the true RMS; the sampled peak of a sine up to 3.5 % low", Source: "table of crest factors, electrical handbooks", Tol: 5e-4,
		Cases: []check.Case{
			c("sine", 1.414, cycles(12, 2, sine12).Crest, 0),
			c("square", 1, cycles(24, 2, square).Crest, 0),
			c("triangle", 1.732, cycles(200, 2, triangle).Crest, 0),
			c("half-wave rectified sine", 2, cycles(12, 2, halfSine).Crest, 0),
		},
	}
}

func limitCheck() check.Quantity {
	at := func(a float64) float64 { v, _ := ContinuousLimitA(a, false); return v }
	return check.Quantity{
		Name: "largest continuous load", Func: "circuit.ContinuousLimitA", Unit: "A", Formula: "0.8 rating (rating = 125 % of the load)",
		Range: "1..1000 A", Source: nec + " Article 100, 210.19(A)(1), 210.20(A)", Tol: 1e-12,
		Cases: []check.Case{
			{Name: "20 A circuit", Want: 16, Got: at(20), Source: "guidance of a body of standards on 80 % rated breakers, read as a page", Origin: check.Published},
			{Name: "15 A circuit", Want: 12, Got: at(15), Origin: check.Memory},
			{Name: "30 A circuit", Want: 24, Got: at(30), Origin: check.Memory},
		},
	}
}

func shareCheck() check.Quantity {
	v, _ := Share(16, 20)
	return check.Quantity{
		Name: "share of the circuit's rating", Func: "circuit.Share", Unit: "1", Formula: "I/rating",
		Range: "0..1e6 A; rating 1..1000 A", Source: nec + " 210.23(A)(1): 16 A is 80 % of 20 A, read from a secondary page", Tol: 1e-12,
		Cases: []check.Case{{Name: "16 A on 20 A", Want: 0.8, Got: v, Origin: check.Published}},
	}
}

func leftCheck() check.Quantity {
	var s ContinuousState
	s, _ = ContinuousConfig{RatingA: 20, PauseS: DefaultPauseS}.Step(s, 17, 3600)
	return check.Quantity{
		Name: "time until a load counts as continuous", Func: "circuit.ContinuousState.LeftS", Unit: "s", Formula: "3 h - time above the limit",
		Range: "0..10800 s", Source: nec + " Article 100, continuous load: 3 hours or more, read from a secondary page", Tol: 1e-12,
		Cases: []check.Case{{Name: "after 1 h at 17 A on 20 A", Want: 7200, Got: s.LeftS(), Origin: check.Published}},
	}
}
