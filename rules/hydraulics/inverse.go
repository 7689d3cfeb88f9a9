package hydraulics

import "math"

const (
	// inverseSteps bounds the search. It closes in after about ten steps; the
	// bound is for the corners of the range, where it falls back to halving.
	inverseSteps = 90
	// inverseClose is the relative width of the bracket, or of the loss, at
	// which the search ends: far below any gauge and above rounding.
	inverseClose = 1e-12
)

// FlowForLoss returns the flow in m3/s at which the line loses lossPa. Range:
// loss 0 or more; a loss that would need a Reynolds number beyond MaxRe, a
// line without length and fittings (which loses nothing at any flow) and
// fields outside their ranges give ok=false. The loss grows with the flow
// everywhere, so that there is one answer, found to 1e-12 of the flow or of
// the loss. Source: PipeLoss, inverted by a bracketed secant search.
func FlowForLoss(p Pipe, w Water, lossPa float64) (flowM3s float64, ok bool) {
	if !notNegative(lossPa) {
		return 0, false
	}
	// A hair inside MaxRe, so that rounding on the way back stays on the chart.
	top, ok := flowAtRe(p, w, MaxRe*(1-1e-12))
	if !ok {
		return 0, false
	}
	most, ok := PipeLoss(p, w, top)
	if !ok || !(most.Pa > 0) || lossPa > most.Pa {
		return 0, false
	}
	if q, ok := laminarFlow(p, w, lossPa); ok {
		return q, true
	}
	b := bracket{low: 0, high: top, lowRoot: 0, highRoot: math.Sqrt(most.Pa)}
	if !b.narrow(p, w, lossPa) {
		return 0, false
	}
	return b.search(p, w, lossPa)
}

// flowAtRe returns the flow in m3/s at a Reynolds number.
func flowAtRe(p Pipe, w Water, re float64) (flowM3s float64, ok bool) {
	area, ok := AreaM2(p.BoreM)
	if !ok || !w.valid() {
		return 0, false
	}
	q := re * w.ViscosityPaS / (w.DensityKgM3 * p.BoreM) * area
	return keep(q, positive(q))
}

// laminarFlow solves the quadratic that laminar friction and fittings make
// together; ok is false where the answer isn't laminar.
func laminarFlow(p Pipe, w Water, lossPa float64) (flowM3s float64, ok bool) {
	area, ok := AreaM2(p.BoreM)
	edge, edgeOK := flowAtRe(p, w, LaminarMaxRe)
	if !ok || !edgeOK {
		return 0, false
	}
	if lossPa == 0 {
		return 0, true
	}
	linear := 32 * w.ViscosityPaS * p.LengthM / (p.BoreM * p.BoreM)
	square := p.MinorK * w.DensityKgM3 / 2
	v := 2 * lossPa / (linear + math.Sqrt(float64(linear*linear)+float64(4*square*lossPa)))
	q := v * area
	return keep(q, notNegative(q) && q <= edge)
}

// bracket holds two flows in m3/s with the wanted loss between theirs. It
// keeps square roots of the losses, since they are almost straight in the flow
// where it is turbulent, which is what a secant wants.
type bracket struct{ low, high, lowRoot, highRoot float64 }

// narrow moves the bracket to a part of the chart without a kink of the
// friction factor and short enough for a secant.
func (b *bracket) narrow(p Pipe, w Water, lossPa float64) bool {
	for _, re := range [...]float64{LaminarMaxRe, TurbulentMinRe, 2e4, 1e5, 1e6} {
		q, ok := flowAtRe(p, w, re)
		if !ok {
			return false
		}
		at, ok := PipeLoss(p, w, q)
		if !ok {
			return false
		}
		if at.Pa >= lossPa {
			b.high, b.highRoot = q, math.Sqrt(at.Pa)
			return true
		}
		b.low, b.lowRoot = q, math.Sqrt(at.Pa)
	}
	return true
}

// search is the Illinois method: a secant within the bracket, where an end
// that stays is weighed down by half, and every eighth step halves the bracket
// so that the search cannot crawl.
func (b *bracket) search(p Pipe, w Water, lossPa float64) (flowM3s float64, ok bool) {
	want := math.Sqrt(lossPa)
	fLow, fHigh := b.lowRoot-want, b.highRoot-want
	last := 0
	for step := 1; step <= inverseSteps; step++ {
		mid := b.low + float64((b.high-b.low)*(fLow/(fLow-fHigh)))
		if step%8 == 0 || !(mid > b.low && mid < b.high) {
			mid = b.low + float64((b.high-b.low)/2)
		}
		at, ok := PipeLoss(p, w, mid)
		if !ok {
			return 0, false
		}
		f := math.Sqrt(at.Pa) - want
		if math.Abs(f) <= inverseClose*want || b.high-b.low <= inverseClose*b.high {
			return mid, true
		}
		side := 1
		if f < 0 {
			side = -1
			b.low, fLow = mid, f
		} else {
			b.high, fHigh = mid, f
		}
		switch {
		case side == last && side < 0:
			fHigh /= 2
		case side == last:
			fLow /= 2
		}
		last = side
	}
	return 0, false
}
