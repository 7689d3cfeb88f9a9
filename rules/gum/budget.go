package gum

import "math"

// Budget holds the inputs of a result, each with its errors. The zero value is
// empty. Different inputs are independent unless Correlate says otherwise; one
// input may carry several errors, which are independent of each other.
type Budget struct {
	names []string
	x     []float64
	parts [][]Part
	corr  []correlation
}

// correlation is that of the inputs i and j, i below j.
type correlation struct {
	i, j int
	r    float64
}

// Input adds an input and returns its number, from 0 on. An input that is no
// number, or a part that can't be one, makes every evaluation refuse.
func (b *Budget) Input(name string, value float64, parts ...Part) int {
	b.names = append(b.names, name)
	b.x = append(b.x, value)
	b.parts = append(b.parts, parts)
	return len(b.x) - 1
}

// Len is how many inputs there are.
func (b *Budget) Len() int { return len(b.x) }

// Correlate states the correlation of two inputs, -1 to 1. It reports false,
// and changes nothing, for anything else.
func (b *Budget) Correlate(i, j int, r float64) bool {
	if i == j || i < 0 || j < 0 || i >= len(b.x) || j >= len(b.x) || !(r >= -1 && r <= 1) {
		return false
	}
	i, j = min(i, j), max(i, j)
	for k := range b.corr {
		if b.corr[k].i == i && b.corr[k].j == j {
			b.corr[k].r = r
			return true
		}
	}
	b.corr = append(b.corr, correlation{i, j, r})
	return true
}

// covariance is the sum over all pairs of inputs for two sets of coefficients.
func (b *Budget) covariance(c1, c2 []float64) float64 {
	s := 0.0
	for i := range b.x {
		u := b.Std(i)
		s += float64(float64(c1[i]*c2[i]) * float64(u*u))
	}
	for _, k := range b.corr {
		both := float64(c1[k.i]*c2[k.j]) + float64(c1[k.j]*c2[k.i])
		s += float64(both * float64(float64(b.Std(k.i)*b.Std(k.j))*k.r))
	}
	return s
}

// Std returns the standard uncertainty of one input, all its errors together.
func (b *Budget) Std(i int) float64 {
	s := 0.0
	for _, p := range b.parts[i] {
		s += float64(p.Std * p.Std)
	}
	return math.Sqrt(s)
}

// Model computes a result from the inputs, in their order; ok is false where
// it can't. It must not keep or change the slice.
type Model func(x []float64) (y float64, ok bool)

// Linear makes a result from its value and its sensitivity coefficients, one
// for each input.
// Source: JCGM 100:2008, 5.1.2 and 5.2.2.
func (b *Budget) Linear(value float64, coefficients []float64) (Result, bool) {
	if len(coefficients) != len(b.x) || !b.valid() || !finite(value) {
		return Result{}, false
	}
	r := Result{Value: value}
	for i, c := range coefficients {
		if !finite(c) {
			return Result{}, false
		}
		for _, p := range b.parts[i] {
			if s := math.Abs(c) * p.Std; s > 0 {
				r.terms = append(r.terms, Term{b.names[i], i, Part{Std: s, DoF: p.DoF, Shape: p.Shape}})
			}
		}
	}
	r.combine(b.cross(coefficients))
	return r, finite(r.Std)
}

// cross is twice the sum of the covariances.
func (b *Budget) cross(c []float64) float64 {
	s := 0.0
	for _, k := range b.corr {
		s += float64(2 * float64(c[k.i]*c[k.j]) * float64(float64(b.Std(k.i)*b.Std(k.j))*k.r))
	}
	return s
}

func (b *Budget) valid() bool {
	for i, x := range b.x {
		if !finite(x) {
			return false
		}
		for _, p := range b.parts[i] {
			if !p.valid() {
				return false
			}
		}
	}
	return true
}

// Evaluate makes a result from a model. Its sensitivities are differences over
// plus and minus one standard uncertainty of each input.
// Source: JCGM 100:2008, 5.1.3, note 2.
func (b *Budget) Evaluate(f Model) (Result, bool) {
	c, y, ok := b.Sensitivities(f)
	if !ok {
		return Result{}, false
	}
	return b.Linear(y, c)
}

// Sensitivities returns a model's value and its coefficient for each input; 0
// for an input without uncertainty.
func (b *Budget) Sensitivities(f Model) (c []float64, y float64, ok bool) {
	x := append([]float64(nil), b.x...)
	y, ok = f(x)
	if !ok || !finite(y) || !b.valid() {
		return nil, 0, false
	}
	c = make([]float64, len(x))
	for i := range x {
		u := b.Std(i)
		if u == 0 {
			continue
		}
		x[i] = b.x[i] + u
		up, okUp := f(x)
		x[i] = b.x[i] - u
		down, okDown := f(x)
		x[i] = b.x[i]
		switch {
		case okUp && okDown:
			c[i] = (up - down) / (2 * u)
		case okUp: // at the edge of the model one side must do
			c[i] = (up - y) / u
		case okDown:
			c[i] = (y - down) / u
		default:
			return nil, 0, false
		}
	}
	return c, y, true
}

// Correlation is that of two results of one budget, from their coefficients:
// what they have in common through the inputs.
// Source: JCGM 100:2008, F.1.2.3, equation (F.2).
func (b *Budget) Correlation(c1, c2 []float64) (r float64, ok bool) {
	if len(c1) != len(b.x) || len(c2) != len(b.x) || !b.valid() {
		return 0, false
	}
	cov, v1, v2 := b.covariance(c1, c2), b.covariance(c1, c1), b.covariance(c2, c2)
	if !(v1 > 0 && v2 > 0) {
		return 0, false
	}
	return math.Min(math.Max(cov/math.Sqrt(float64(v1*v2)), -1), 1), true
}
