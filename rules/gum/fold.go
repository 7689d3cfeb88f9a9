package gum

import (
	"math"

	"headroom/rules/detmath"
)

// The folding works on a grid of equal cells across the whole of a density.
const (
	foldCells = 513
	foldMid   = foldCells / 2
	// foldSpan is how many standard deviations the grid reaches to each side.
	foldSpan = 8.0
	// negligible is the share of a rectangle's half-width in the standard
	// uncertainty below which its shape can't matter any more.
	negligible = 0.1
)

// fold returns the half-width that holds the level of the sum of independent
// errors. The normal parts go together with their effective degrees of freedom
// as one t density; each rectangle then smears it. ok is false where fewer than
// one degree of freedom is left for the normal parts.
// Source: convolution of densities, JCGM 101:2008, 5.2 and 5.3; that a sum of
// t distributions is nearly a t of the effective degrees of freedom is the
// GUM's own approximation, G.4.1.
func fold(terms []Term, level float64) (half float64, ok bool) {
	normal, widths, std := split(terms)
	if std == 0 {
		return 0, true
	}
	if normal.Std > 0 && normal.dof() < 1 {
		return 0, false
	}
	if len(widths) == 0 {
		k, ok := StudentT(level, normal.dof())
		return float64(k * normal.Std), ok
	}
	tail := 1.0
	if normal.DoF > 0 && normal.Std > 0.2*std {
		// A t density has long tails; the grid must reach them.
		k, _ := StudentT(0.9999, math.Max(normal.DoF, 2))
		tail = math.Max(1, k/4)
	}
	cell := foldSpan * std * tail / foldMid
	d := startDensity(normal, cell)
	for _, w := range widths {
		d = smear(d, w/cell)
	}
	return halfWidth(d, level) * cell, true
}

// split puts the normal parts together and lists the half-widths of the
// rectangles; those too narrow to matter count as normal.
func split(terms []Term) (normal Part, widths []float64, std float64) {
	var v, vn, w float64
	for _, t := range terms {
		v += float64(t.Std * t.Std)
	}
	std = math.Sqrt(v)
	for _, t := range terms {
		half := float64(t.Std * math.Sqrt(3))
		if t.Shape == Rectangular && half > negligible*std {
			widths = append(widths, half)
			continue
		}
		u2 := float64(t.Std * t.Std)
		vn += u2
		w += float64(u2*u2) / t.dof()
	}
	normal.Std = math.Sqrt(vn)
	if w > 0 {
		normal.DoF = float64(vn*vn) / w
	}
	return normal, widths, std
}

// startDensity fills the grid with the density of the normal parts: all of it
// in the middle cell where they are too narrow to show.
func startDensity(p Part, cell float64) []float64 {
	d := make([]float64, foldCells)
	if p.Std < cell/4 {
		d[foldMid] = 1
		return d
	}
	sum := 0.0
	for i := range d {
		z := float64(float64(i-foldMid)*cell) / p.Std
		z2 := float64(z * z)
		if p.DoF == 0 || p.DoF > normalDoF {
			d[i] = detmath.Exp(-z2 / 2)
		} else {
			d[i] = detmath.Exp(-(p.DoF + 1) / 2 * detmath.Log(1+z2/p.DoF))
		}
		sum += d[i]
	}
	for i := range d {
		d[i] /= sum
	}
	return d
}

// smear folds a density with a rectangle of that half-width in cells, its ends
// taken as parts of cells.
func smear(d []float64, half float64) []float64 {
	sums := make([]float64, len(d)+1)
	for i, v := range d {
		sums[i+1] = sums[i] + v
	}
	// upTo is the mass below a place, in cells from the left edge.
	upTo := func(x float64) float64 {
		x = math.Min(math.Max(x, 0), float64(len(d)))
		i := min(int(x), len(d)-1)
		return sums[i] + float64((x-float64(i))*d[i])
	}
	out := make([]float64, len(d))
	for i := range d {
		at := float64(i) + 0.5
		out[i] = (upTo(at+half) - upTo(at-half)) / float64(2*half)
	}
	return out
}

// halfWidth returns, in cells, how far to both sides of the middle the level
// of the mass lies.
func halfWidth(d []float64, level float64) float64 {
	total := 0.0
	for _, v := range d {
		total += v
	}
	in := d[foldMid]
	if in >= level*total {
		return level * total / in / 2
	}
	for k := 1; k <= foldMid; k++ {
		ring := d[foldMid-k] + d[foldMid+k]
		if in+ring >= level*total {
			return float64(k) - 0.5 + (float64(level*total)-in)/ring
		}
		in += ring
	}
	return foldMid + 0.5
}
