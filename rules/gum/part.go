package gum

import "math"

// Shape is the distribution that stands for one error.
type Shape uint8

// The shapes.
const (
	// Normal, or Student's t where the degrees of freedom are finite.
	Normal Shape = iota
	// Rectangular: anything within the limits is as likely, nothing beyond.
	Rectangular
)

// String returns the shape as one word in lower case.
func (s Shape) String() string {
	if s == Rectangular {
		return "rectangular"
	}
	return "normal"
}

// Part is one error's standard uncertainty.
type Part struct {
	// Std is the standard uncertainty, 0 or more, in the input's unit.
	Std float64
	// DoF are the degrees of freedom behind it, above 0; 0 means that it is
	// exactly known, as for a stated class, which is infinitely many.
	DoF float64
	// Shape is the distribution.
	Shape Shape
}

// dof is DoF with infinity spelled out.
func (p Part) dof() float64 {
	if p.DoF == 0 {
		return math.Inf(1)
	}
	return p.DoF
}

// valid reports whether the part can be one.
func (p Part) valid() bool {
	return finite(p.Std) && p.Std >= 0 && p.DoF >= 0 && !math.IsNaN(p.DoF) && p.Shape <= Rectangular
}

// Limits is an error that lies within plus or minus half, any place as likely:
// a class, a tolerance. Half is 0 or more.
// Source: JCGM 100:2008, 4.3.7, u = a/sqrt(3).
func Limits(half float64) Part {
	return Part{Std: math.Abs(half) / math.Sqrt(3), Shape: Rectangular}
}

// Resolution is the error of an indication that moves in steps.
// Source: JCGM 100:2008, F.2.2.1, u = 0.29 step.
func Resolution(step float64) Part { return Limits(math.Abs(step) / 2) }

// Mean is the type A evaluation of independent readings: their mean, and the
// uncertainty of that mean. It needs two readings or more, all of them numbers.
// Source: JCGM 100:2008, 4.2.3.
func Mean(readings []float64) (mean float64, p Part, ok bool) {
	mean, s, ok := meanSpread(readings)
	if !ok {
		return 0, Part{}, false
	}
	p, ok = ScatterOfMean(s, float64(len(readings)))
	return mean, p, ok
}

// ScatterOfMean is the uncertainty of a mean from the spread (the standard
// deviation of one reading) and the number of independent readings that the
// mean is worth, above 1; readings that hang together in time are worth fewer
// than there are, see package steady.
// Source: JCGM 100:2008, 4.2.3 and 4.2.7; Bayley and Hammersley, 1946, for the
// number of readings.
func ScatterOfMean(spread, independent float64) (p Part, ok bool) {
	if !finite(spread) || spread < 0 || !finite(independent) || independent <= 1 {
		return Part{}, false
	}
	return Part{Std: spread / math.Sqrt(independent), DoF: independent - 1}, true
}

// meanSpread returns mean and experimental standard deviation.
func meanSpread(x []float64) (mean, spread float64, ok bool) {
	n := float64(len(x))
	if n < 2 {
		return 0, 0, false
	}
	for _, v := range x {
		mean += v / n
	}
	ss := 0.0
	for _, v := range x {
		ss += float64((v - mean) * (v - mean))
	}
	spread = math.Sqrt(ss / (n - 1))
	return mean, spread, finite(mean) && finite(spread)
}

// Covariance is that of the means of two series of readings taken in pairs,
// and their correlation; two pairs or more. The correlation is 0 where one of
// the series doesn't vary.
// Source: JCGM 100:2008, 5.2.3, equation (17).
func Covariance(x, y []float64) (cov, r float64, ok bool) {
	mx, sx, okX := meanSpread(x)
	my, sy, okY := meanSpread(y)
	if !okX || !okY || len(x) != len(y) {
		return 0, 0, false
	}
	n := float64(len(x))
	for i := range x {
		cov += float64((x[i]-mx)*(y[i]-my)) / float64(n*(n-1))
	}
	if sx > 0 && sy > 0 {
		r = math.Min(math.Max(float64(cov*n)/float64(sx*sy), -1), 1)
	}
	return cov, r, finite(cov)
}
