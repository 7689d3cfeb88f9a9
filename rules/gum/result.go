package gum

import (
	"cmp"
	"math"
	"slices"
)

// Term is what one error adds to the uncertainty of a result.
type Term struct {
	// Name of the input and its number.
	Name  string
	Input int
	// Part is the error in the result's unit: |c| u.
	Part
}

// Result is a value with its uncertainty.
type Result struct {
	// Value of the result and Std, its combined standard uncertainty.
	Value, Std float64
	// DoF are the effective degrees of freedom, infinity for very many.
	DoF float64

	terms []Term
	// crossed is set where correlations took part: there is no simple sum of
	// independent errors then.
	crossed bool
}

// combine sets Std and DoF from the terms and the sum of covariances.
// Source: JCGM 100:2008, equations (10), (16) and (G.2b).
func (r *Result) combine(cross float64) {
	var v, w float64
	for _, t := range r.terms {
		u2 := float64(t.Std * t.Std)
		v += u2
		w += float64(u2*u2) / t.dof()
	}
	r.crossed = cross != 0
	v = math.Max(v+cross, 0)
	r.Std, r.DoF = math.Sqrt(v), math.Inf(1)
	if w > 0 {
		r.DoF = float64(v*v) / w
	}
}

// Terms returns the budget, the largest term first.
func (r *Result) Terms() []Term {
	out := slices.Clone(r.terms)
	slices.SortStableFunc(out, func(a, b Term) int { return cmp.Compare(b.Std, a.Std) })
	return out
}

// With adds an independent error of the result itself, for instance that of
// the model.
func (r Result) With(name string, p Part) Result {
	if !p.valid() || p.Std == 0 {
		return r
	}
	cross := float64(r.Std * r.Std)
	for _, t := range r.terms {
		cross -= float64(t.Std * t.Std)
	}
	if !r.crossed {
		cross = 0
	}
	r.terms = append(slices.Clone(r.terms), Term{name, -1, p})
	r.combine(cross)
	return r
}

// Interval is a coverage interval: Value plus and minus U.
type Interval struct {
	// Value and U, the expanded uncertainty.
	Value, U float64
	// K is the coverage factor, U over the standard uncertainty; 0 where there
	// is no uncertainty at all.
	K float64
	// Level is the share of cases that the interval holds.
	Level float64
}

// Expand returns the coverage interval at a level, above 0 and up to 0.9999.
// Independent errors are folded together by their distributions; where
// correlations took part, or fewer than MinDoF degrees of freedom are left, the
// factor is Student's t with the effective degrees of freedom.
// Source: JCGM 100:2008, 6.3.3, G.2.2 and G.4; JCGM 101:2008 for the folding.
func (r *Result) Expand(level float64) (Interval, bool) {
	if !finite(r.Value) || !finite(r.Std) || !(level > 0 && level <= maxLevel) {
		return Interval{}, false
	}
	i := Interval{Value: r.Value, Level: level}
	if r.Std == 0 {
		return i, true
	}
	if r.DoF < 1 {
		return Interval{}, false
	}
	if !r.crossed {
		if u, ok := fold(r.terms, level); ok {
			i.U, i.K = u, u/r.Std
			return i, true
		}
	}
	return r.ByStudent(level)
}

// ByStudent returns the coverage interval by Student's t alone, the plain
// recipe of JCGM 100 annex G, with the effective degrees of freedom cut down to
// a whole number. It needs 1 degree of freedom or more.
// Source: JCGM 100:2008, G.4.1 and its note 1.
func (r *Result) ByStudent(level float64) (Interval, bool) {
	i := Interval{Value: r.Value, Level: level}
	dof := r.DoF
	if dof < normalDoF {
		dof = math.Floor(dof)
	}
	k, ok := StudentT(level, dof)
	if !ok || !finite(r.Value) || !finite(r.Std) {
		return Interval{}, false
	}
	i.K, i.U = k, float64(k*r.Std)
	return i, true
}
