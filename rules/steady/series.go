package steady

import (
	"math"

	"headroom/rules/gum"
)

// fitted is the straight line through a series, and its rests.
type fitted struct {
	mean, slope float64 // slope per reading
	rests       []float64
	// spread is the standard deviation of one reading about the line.
	spread, effective, width float64
}

func fit(x []float64) (f fitted, ok bool) {
	n := float64(len(x))
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) || math.Abs(v) > 1e150 {
			return fitted{}, false
		}
		f.mean += v / n
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	f.width = hi - lo
	mid := float64((n - 1) / 2)
	sxx := float64(n*(float64(n*n)-1)) / 12
	for i, v := range x {
		f.slope += float64((float64(i)-mid)*(v-f.mean)) / sxx
	}
	f.rests = make([]float64, len(x))
	ss := 0.0
	for i, v := range x {
		r := v - f.mean - float64(f.slope*(float64(i)-mid))
		f.rests[i] = r
		ss += float64(r * r)
	}
	f.effective = worth(f.rests, ss, x)
	// The line and the correlation take degrees of freedom from the rests.
	left := math.Max(1-2/f.effective, 0.1)
	f.spread = math.Sqrt(ss / n / left)
	return f, true
}

// Trend returns the change of a series from end to end along the straight line
// of least squares, the standard uncertainty of that change and its degrees of
// freedom. A bend of the series is no noise: the scatter is taken about a
// parabola. ok is false with fewer than MinReadings or for what is no number.
// Source: least squares with orthogonal polynomials, any text on statistics.
func Trend(x []float64) (drift, std, dof float64, ok bool) {
	if len(x) < MinReadings {
		return 0, 0, 0, false
	}
	f, ok := fit(x)
	if !ok {
		return 0, 0, 0, false
	}
	n := float64(len(x))
	mid := float64((n - 1) / 2)
	var top, bottom float64
	bend := func(i int) float64 {
		d := float64(i) - mid
		return float64(d*d) - (float64(n*n)-1)/12
	}
	for i, r := range f.rests {
		b := bend(i)
		top += float64(b * r)
		bottom += float64(b * b)
	}
	ss := 0.0
	for i := range f.rests {
		f.rests[i] -= float64(top / bottom * bend(i))
		ss += float64(f.rests[i] * f.rests[i])
	}
	effective := worth(f.rests, ss, x)
	spread := math.Sqrt(ss / n / math.Max(1-3/effective, 0.1))
	return float64(f.slope * (n - 1)), spread * math.Sqrt(12/effective), math.Max(effective-3, 1), true
}

// worth is how many independent readings the rests with the sum of squares ss
// are worth: their number over one plus twice the sum of their
// autocorrelations. A sensor that is slower than the frames shows each reading
// several times; such a block counts as one reading.
// Source: Bayley and Hammersley, 1946; cut off by the initial positive
// sequence of Geyer, 1992, and never below what first-order noise gives.
func worth(rests []float64, ss float64, x []float64) float64 {
	n := float64(len(rests))
	if ss <= 0 {
		return n
	}
	blocks := rests
	if size, first := held(x); size > 1 && (len(rests)-first)/size >= MinEffective {
		blocks = means(rests[first:], size)
	}
	sb := 0.0
	for _, b := range blocks {
		sb += float64(b * b)
	}
	if sb <= 0 {
		return n
	}
	tau := math.Max(positive(blocks, sb), firstOrder(blocks, sb))
	nb := float64(len(blocks))
	// The variance of the mean is that of a block times tau over their number.
	ofMean := float64(sb/nb) * tau / nb
	return math.Min(n, math.Max(float64(ss/n)/ofMean, 1))
}

// held returns for how many frames a value stands at least, and where the first
// new one begins: the shortest run of equal values, the cut-off ones at the ends
// left out.
func held(x []float64) (size, first int) {
	size, run := len(x), 1
	for i := 1; i < len(x); i++ {
		if x[i] == x[i-1] {
			run++
			continue
		}
		if first == 0 {
			first = i
		} else {
			size = min(size, run)
		}
		run = 1
	}
	return size, first
}

// means are those of blocks of a size; a rest at the end is left out.
func means(x []float64, size int) []float64 {
	out := make([]float64, 0, len(x)/size)
	for i := 0; i+size <= len(x); i += size {
		s := 0.0
		for _, v := range x[i : i+size] {
			s += v
		}
		out = append(out, s/float64(size))
	}
	return out
}

// positive is one plus twice the sum of autocorrelations, cut off where a pair
// of them is no longer positive.
// Source: Geyer, 1992.
func positive(rests []float64, ss float64) float64 {
	n := float64(len(rests))
	tau := 1.0
	for lag := 1; lag+1 <= len(rests)/3; lag += 2 {
		pair := (lagSum(rests, lag) + lagSum(rests, lag+1)) / ss
		if pair <= 0 {
			break
		}
		tau += float64(2 * pair)
	}
	// The line took some of the correlation with it; what is left looks shorter
	// than it is by about tau/n.
	return float64(tau * (1 + tau/n))
}

// firstOrder is the same for noise of the first order, from the correlation of
// neighbours, freed of the bias that the fitted line leaves in it. Correlation
// that noise alone would show counts as none.
// Source: (1+r)/(1-r), Bayley and Hammersley, 1946; bias -(2+4r)/n, Kendall,
// 1954, with a line in place of a mean.
func firstOrder(rests []float64, ss float64) float64 {
	n := float64(len(rests))
	r := lagSum(rests, 1) / ss
	if r < 2/math.Sqrt(n) {
		return 1
	}
	r = math.Min(r+(2+float64(4*r))/n, 1-1/n)
	return (1 + r) / (1 - r)
}

// lagSum is the sum of products of rests that lie lag apart.
func lagSum(r []float64, lag int) float64 {
	s := 0.0
	for i := lag; i < len(r); i++ {
		s += float64(r[i] * r[i-lag])
	}
	return s
}

// halves compares the scatter of the two halves and reports whether they
// surely differ at the level.
func (f *fitted) halves(level float64, v *Verdict) bool {
	h := len(f.rests) / 2
	var a, b float64
	for i := range h {
		a += float64(f.rests[i] * f.rests[i])
		j := len(f.rests) - 1 - i
		b += float64(f.rests[j] * f.rests[j])
	}
	if a <= 0 || b <= 0 {
		return a != b
	}
	v.Ratio = b / a
	dof := math.Max(float64(f.effective/2)-1, 1)
	share, ok := gum.InsideF(v.Ratio, math.Min(dof, 1000), math.Min(dof, 1000))
	return ok && (share > (1+level)/2 || share < (1-level)/2)
}
