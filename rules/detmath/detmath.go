// Package detmath holds the few transcendental functions the engine needs,
// written so that every machine computes the same bits.
//
// The standard library's math.Exp, Log and Pow are assembly on some
// processors and differ there in the last bit, and the Go compiler may fuse
// x*y+z into one rounding on arm64. A recording must replay to byte-identical
// verdicts on any board, so the packages under rules/ call these functions
// instead, and wrap every product that is added to something in float64(),
// which the language promises is a rounding of its own. A test in rules/
// compiles for arm64 and fails on any fused instruction.
//
// It owns nothing else: math.Sqrt, Abs, Floor, Min and Max are exact
// everywhere and are used directly.
package detmath

import "math"

const (
	// ln2 split in two, so that k*ln2Hi is exact for the k of a float64.
	ln2Hi = 6.93147180369123816490e-01
	ln2Lo = 1.90821492927058770002e-10
	ln2   = 0.693147180559945309417232121458176568
	// Beyond these Exp overflows to +Inf or underflows to 0.
	expMax = 709.782712893383973096
	expMin = -745.13321910194110842
)

// Exp returns e**x. Range: all finite x; above 709.78 it is +Inf, below
// -745.13 it is 0, and NaN gives NaN. Relative error at most 1e-15.
// Source: argument reduction by ln 2 and the Taylor series, any text on
// numerical analysis.
func Exp(x float64) float64 {
	switch {
	case math.IsNaN(x):
		return x
	case x > expMax:
		return math.Inf(1)
	case x < expMin:
		return 0
	}
	k := math.Floor(float64(x/ln2) + 0.5)
	r := (x - float64(k*ln2Hi)) - float64(k*ln2Lo)
	// Horner from the 14th term; |r| <= 0.347, so the rest is below 1e-18.
	p := 1.0
	for n := 14.0; n >= 1; n-- {
		p = 1 + float64(float64(r*p)/n)
	}
	return math.Ldexp(p, int(k))
}

// Log returns the natural logarithm of x. Range: x > 0; 0 gives -Inf, a
// negative x or NaN gives NaN, +Inf gives +Inf. Relative error at most 1e-15
// away from x = 1, absolute error at most 1e-16 near it.
// Source: ln m = 2 artanh((m-1)/(m+1)), any text on numerical analysis.
func Log(x float64) float64 {
	switch {
	case math.IsNaN(x) || x < 0:
		return math.NaN()
	case x == 0:
		return math.Inf(-1)
	case math.IsInf(x, 1):
		return x
	}
	m, e := math.Frexp(x)
	if m < math.Sqrt2/2 {
		m *= 2
		e--
	}
	f := (m - 1) / (m + 1)
	s := float64(f * f)
	p := 0.0
	for n := 25.0; n >= 3; n -= 2 {
		p = float64(s * (1/n + p))
	}
	lm := float64(2*f) + float64(float64(2*f)*p)
	k := float64(e)
	return float64(k*ln2Hi) + (lm + float64(k*ln2Lo))
}

// Pow returns x**y for x >= 0. Range: x > 0 with any finite y; x = 0 gives 0
// for y > 0, 1 for y = 0 and +Inf for y < 0; a negative x or a NaN gives NaN.
// Relative error about |y ln x| * 2e-16.
func Pow(x, y float64) float64 {
	switch {
	case math.IsNaN(x) || math.IsNaN(y) || x < 0:
		return math.NaN()
	case y == 0:
		return 1
	case x == 0 && y > 0:
		return 0
	case x == 0:
		return math.Inf(1)
	}
	return Exp(float64(y * Log(x)))
}
