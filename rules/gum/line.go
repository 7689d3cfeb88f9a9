package gum

import "math"

// Line is a straight line through points, by least squares.
type Line struct {
	// Intercept at x = 0 and Slope, with their standard uncertainties from the
	// scatter about the line and the correlation between them.
	Intercept, Slope, InterceptStd, SlopeStd, Corr float64
	// Spread is the standard deviation of the points about the line, with N-2
	// degrees of freedom; 0 of them leaves all uncertainties 0.
	Spread float64
	// N is the number of points.
	N int
	// MeanX is the mean of the places.
	MeanX float64
}

// FitLine draws the line through two points or more that don't all stand at
// the same x. The errors of y count, those of x don't.
// Source: JCGM 100:2008, H.3.2; least squares in any text on statistics.
func FitLine(x, y []float64) (l Line, ok bool) {
	n := float64(len(x))
	if n < 2 || len(x) != len(y) {
		return Line{}, false
	}
	var mx, my, sxx, sxy float64
	for i := range x {
		mx += x[i] / n
		my += y[i] / n
	}
	for i := range x {
		d := x[i] - mx
		sxx += float64(d * d)
		sxy += float64(d * (y[i] - my))
	}
	if !(sxx > 0) || math.IsInf(sxx, 0) || !finite(sxy) {
		return Line{}, false
	}
	l = Line{Slope: sxy / sxx, N: len(x), MeanX: mx}
	l.Intercept = my - float64(l.Slope*mx)
	ss, sumX2 := 0.0, 0.0
	for i := range x {
		e := y[i] - l.Intercept - float64(l.Slope*x[i])
		ss += float64(e * e)
		sumX2 += float64(x[i] * x[i])
	}
	if n > 2 {
		l.Spread = math.Sqrt(ss / (n - 2))
		l.SlopeStd = l.Spread / math.Sqrt(sxx)
		l.InterceptStd = float64(l.Spread * math.Sqrt(sumX2/float64(n*sxx)))
	}
	if sumX2 > 0 {
		l.Corr = -float64(n*mx) / math.Sqrt(float64(n*sumX2))
	}
	return l, finite(l.Intercept) && finite(l.Slope) && finite(l.Spread)
}

// At returns the line's value at a place with its uncertainty; it needs three
// points or more.
// Source: JCGM 100:2008, equation (H.15).
func (l Line) At(x float64) (r Result, ok bool) {
	if l.N < 3 || !finite(x) {
		return Result{}, false
	}
	v := float64(l.InterceptStd*l.InterceptStd) + float64(float64(x*x)*float64(l.SlopeStd*l.SlopeStd)) +
		float64(float64(2*x)*float64(float64(l.InterceptStd*l.SlopeStd)*l.Corr))
	std := math.Sqrt(math.Max(v, 0))
	r = Result{Value: l.Intercept + float64(l.Slope*x), DoF: float64(l.N - 2)}
	if std > 0 {
		r.terms = []Term{{"scatter about the line", 0, Part{Std: std, DoF: r.DoF}}}
	}
	r.Std = std
	return r, finite(r.Value) && finite(std)
}
