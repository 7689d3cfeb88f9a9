package codec

import (
	"math"
	"slices"
	"strconv"
)

// grid is what a converter and its calibration make of codes: the code k
// stands for offset + k * step. The zero value is no grid.
type grid struct{ offset, step float64 }

// value is the code's value. The conversion keeps the product from being fused
// with the sum, which would give other bits on other machines.
func (g grid) value(k int64) float64 {
	return float64(float64(k)*g.step) + g.offset
}

const (
	// maxCode keeps codes where every float64 has room for the fraction that
	// tells whether a value lies on the grid.
	maxCode = 1 << 40
	// maxOff is how far a value may lie beside its code's, in units of the
	// last place, and still count as the same converter's: three roundings of
	// a conversion, with some room.
	maxOff = 16
	// maxStrange is how many different values may lie off the grid: the ends
	// of a range, zeros of a failed sensor, negative zeros.
	maxStrange = 8
	// maxSpan is the widest range of codes for which a reader keeps a table.
	maxSpan = 1 << 20
)

// code returns the value's code and how many units of the last place it lies
// beside the code's value. ok is false for a value that is not on the grid.
func (g grid) code(v float64) (k, off int64, ok bool) {
	x := math.Round((v - g.offset) / g.step)
	if !(math.Abs(x) <= maxCode) {
		return 0, 0, false
	}
	k = int64(x)
	off = ordered(v) - ordered(g.value(k))
	return k, off, off <= maxOff && off >= -maxOff
}

// ordered maps the bits of a float64 to a whole number so that neighbours are
// neighbours. It is its own inverse but for the types.
func ordered(v float64) int64 {
	b := int64(math.Float64bits(v))
	return b ^ int64(uint64(b>>63)>>1)
}

func unordered(x int64) float64 {
	return math.Float64frombits(uint64(x ^ int64(uint64(x>>63)>>1)))
}

// distinct returns the different bit patterns, as ordered numbers, ascending.
func distinct(vs []float64) []int64 {
	out := make([]int64, len(vs))
	for i, v := range vs {
		out[i] = ordered(v)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// finite cuts off infinities and what isn't a number.
func finite(u []int64) []int64 {
	for len(u) > 0 && !(unordered(u[0]) >= -math.MaxFloat64) {
		u = u[1:]
	}
	for len(u) > 0 && !(unordered(u[len(u)-1]) <= math.MaxFloat64) {
		u = u[:len(u)-1]
	}
	return u
}

// fit says how a grid serves for ascending different values.
type fit struct {
	grid
	// strange are the values that are not on it, and offs how far the others
	// lie beside the grid's values, ascending; exact means that they don't.
	strange []int64
	offs    []int64
	exact   bool
	span    int64
}

// try fits the values to the grid. Each code stands for one value only: of two
// that share a code, as a zero and a negative zero do, the nearer one.
func (g grid) try(u []int64) (f fit, ok bool) {
	if !(g.step > 0) {
		return fit{}, false
	}
	f = fit{grid: g, exact: true}
	var first, last, held int64
	for _, x := range u {
		k, off, ok := g.code(unordered(x))
		switch n := len(f.offs); {
		case !ok:
			f.strange = append(f.strange, x)
			continue
		case n == 0:
			first = k
		case k != last:
		case max(off, -off) < max(f.offs[n-1], -f.offs[n-1]):
			f.strange, f.offs = append(f.strange, held), f.offs[:n-1]
		default:
			f.strange = append(f.strange, x)
			continue
		}
		f.offs = append(f.offs, off)
		last, held = k, x
	}
	for _, off := range f.offs {
		f.exact = f.exact && off == 0
	}
	f.span = last - first
	return f, len(f.offs) > 1 && len(f.strange) <= maxStrange && (f.exact || f.span < maxSpan)
}

// findGrid looks for the grid of ascending different values, the first, the
// last and zeros of which may be off it.
func findGrid(u []int64) (f fit, ok bool) {
	inner := finite(u)
	if len(inner) < 2 {
		return fit{}, false
	}
	n := len(inner)
	for _, part := range [...][]int64{inner, inner[1:], inner[:n-1], inner[1 : n-1], withoutZero(inner)} {
		if g, ok := stepOf(part); ok {
			if f, ok := g.place(u, part); ok {
				return f, true
			}
		}
	}
	return fit{}, false
}

func withoutZero(u []int64) []int64 {
	out := make([]int64, 0, len(u))
	for _, x := range u {
		if unordered(x) != 0 {
			out = append(out, x)
		}
	}
	return out
}

// stepOf finds the distance that all distances are multiples of. The smallest
// of those between neighbours is one step, or a few.
func stepOf(u []int64) (g grid, ok bool) {
	if len(u) < 2 {
		return grid{}, false
	}
	least := math.Inf(1)
	for i := 1; i < len(u); i++ {
		if d := unordered(u[i]) - unordered(u[i-1]); d > 0 {
			least = min(least, d)
		}
	}
	lo, hi := unordered(u[0]), unordered(u[len(u)-1])
	if math.IsInf(hi-lo, 0) || math.IsInf(least, 0) {
		return grid{}, false
	}
	for part := 1.0; part <= 6; part++ {
		if steps := stepsAt(u, least/part); steps > 0 && steps <= maxCode {
			return grid{lo, (hi - lo) / steps}, true
		}
	}
	return grid{}, false
}

// stepsAt is the number of steps from the first value to the last; 0 where the
// distances are no multiples of step.
func stepsAt(u []int64, step float64) (sum float64) {
	for i := 1; i < len(u); i++ {
		x := (unordered(u[i]) - unordered(u[i-1])) / step
		n := math.Round(x)
		if math.Abs(x-n) > 0.1 || n > maxCode {
			return 0
		}
		sum += n
	}
	return sum
}

// place finds the offset for a step: none if the values are multiples of it,
// else the first value on the grid. A step of few digits, or a whole part of
// such a number, is tried first, as somebody may have chosen it.
func (g grid) place(u, part []int64) (f fit, ok bool) {
	for _, s := range [...]float64{shorter(g.step), 1 / shorter(1/g.step), g.step} {
		if f, ok := (grid{0, s}).try(u); ok && f.exact {
			return f, true
		}
	}
	for _, offset := range [...]float64{0, unordered(part[0])} {
		if f, ok := (grid{offset, g.step}).try(u); ok {
			return f, true
		}
	}
	return fit{}, false
}

// shorter is the number of fewest digits very near to x.
func shorter(x float64) float64 {
	const near = 1e-10
	for digits := range 12 {
		s := strconv.FormatFloat(x, 'e', digits, 64)
		if v, err := strconv.ParseFloat(s, 64); err == nil && math.Abs(v-x) <= near*math.Abs(x) {
			return v
		}
	}
	return x
}
