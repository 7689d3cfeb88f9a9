package chart

import "math"

// scale is the vertical axis.
type scale struct {
	lo, hi, step float64
}

// holds reports whether y is on the axis.
func (s scale) holds(y float64) bool { return y >= s.lo && y <= s.hi }

// y returns the height of a value in the plot's own 0 (top) to 100 (bottom).
func (s scale) y(v float64) float64 { return 100 * (s.hi - v) / (s.hi - s.lo) }

// scale chooses the axis: all data, the nearest limit always, since the
// distance to it is the point of the chart, and every other limit as long as
// it does not squeeze the data.
func (p *Plot) scale(segs []segment) scale {
	lo, hi, any := dataRange(segs)
	if !any {
		return p.scaleOfLimits()
	}
	lo, hi = widen(lo, hi, p.MinSpan)
	rest := append([]Limit(nil), p.Limits...)
	for len(rest) > 0 {
		i := nearest(rest, lo, hi)
		nlo, nhi := math.Min(lo, rest[i].Y), math.Max(hi, rest[i].Y)
		first := len(rest) == len(p.Limits)
		if !first && nhi-nlo > 2.5*(hi-lo) {
			break
		}
		lo, hi = nlo, nhi
		rest = append(rest[:i], rest[i+1:]...)
	}
	return rounded(lo, hi)
}

func (p *Plot) scaleOfLimits() scale {
	if len(p.Limits) == 0 {
		return rounded(0, p.MinSpan)
	}
	lo, hi := p.Limits[0].Y, p.Limits[0].Y
	for _, l := range p.Limits {
		lo, hi = math.Min(lo, l.Y), math.Max(hi, l.Y)
	}
	lo, hi = widen(lo, hi, p.MinSpan)
	return rounded(lo, hi)
}

func dataRange(segs []segment) (lo, hi float64, any bool) {
	for i := range segs {
		for _, b := range segs[i].buckets {
			if !any {
				lo, hi, any = b.min, b.max, true
			}
			lo, hi = math.Min(lo, b.min), math.Max(hi, b.max)
		}
	}
	return lo, hi, any
}

func widen(lo, hi, span float64) (float64, float64) {
	if lack := span - (hi - lo); lack > 0 {
		return lo - lack/2, hi + lack/2
	}
	return lo, hi
}

// nearest returns the limit with the least distance to the range lo to hi.
func nearest(ls []Limit, lo, hi float64) int {
	best, at := math.Inf(1), 0
	for i, l := range ls {
		if d := math.Max(math.Max(lo-l.Y, l.Y-hi), 0); d < best {
			best, at = d, i
		}
	}
	return at
}

// rounded adds a little air and picks a step of 1, 2 or 5 times a power of ten
// that gives two to five lines.
func rounded(lo, hi float64) scale {
	air := 0.08 * (hi - lo)
	lo, hi = lo-air, hi+air
	raw := (hi - lo) / 3.2
	pow := math.Pow(10, math.Floor(math.Log10(raw)))
	step := 10 * pow
	for _, m := range []float64{1, 2, 5} {
		if m*pow >= raw {
			step = m * pow
			break
		}
	}
	return scale{lo, hi, step}
}

// ticks returns the values that get a line and a number.
func (s scale) ticks() []float64 {
	var out []float64
	for k := math.Ceil(s.lo / s.step); k*s.step <= s.hi && len(out) < 12; k++ {
		out = append(out, k*s.step)
	}
	return out
}
