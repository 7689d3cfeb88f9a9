package codec

import "math/bits"

// The predictors. Which one serves is found out from the numbers that have
// already gone by, so reader and writer agree without a word.
const (
	byLast  = iota // the last number
	byLine         // the line through the last two
	byQuick        // means over about 2, 4 and 16 numbers
	byMiddle
	bySlow
	numPredictors
)

// meanShift is the memory of each mean, as a power of two.
var meanShift = [numPredictors]uint{byQuick: 1, byMiddle: 3, bySlow: 5}

const (
	// fine is how finely the means are kept, as a power of two.
	fine = 8
	// costShift is the memory of a predictor's cost, sizeShift that of the
	// size of the differences, as powers of two. Found by trial on noisy
	// recordings.
	costShift = 5
	sizeShift = 4
	// most bounds what one difference can add to a memory: it holds the bits of
	// any float64 and leaves room for the sums.
	most = 1 << 52
	// longest is the greatest quotient that is written in ones. A greater
	// difference follows longest+1 ones: the number of its bits less one, in
	// six bits, and then those.
	longest = 19
)

// model predicts the next number of a series. Its arithmetic is on whole
// numbers that wrap, the same on every machine.
type model struct {
	last, before int64
	means        [numPredictors]int64
	costs        [numPredictors]uint64
	size         uint64 // mean size of the zigzag differences, times 2^fine
	seen         uint   // how many made it, up to sizeShift
	guess        [numPredictors]int64
}

func newModel() model { return model{size: 4 << fine} }

// predict returns the guess that has served best of late, moved a quarter of
// the way towards the second best, which was found to pay by trial.
func (m *model) predict() int64 {
	m.guess[byLast] = m.last
	m.guess[byLine] = 2*m.last - m.before
	for p := byQuick; p < numPredictors; p++ {
		m.guess[p] = (m.means[p] + 1<<(fine-1)) >> fine
	}
	best, second := byLast, byLine
	if m.costs[second] < m.costs[best] {
		best, second = second, best
	}
	for p := byQuick; p < numPredictors; p++ {
		switch {
		case m.costs[p] < m.costs[best]:
			best, second = p, best
		case m.costs[p] < m.costs[second]:
			second = p
		}
	}
	return m.guess[best] + (m.guess[second]-m.guess[best])>>2
}

// parameter is the number of low bits that are written plain: the floor of the
// binary logarithm of a little more than the mean size, found by trial.
func (m *model) parameter() uint {
	n := uint(bits.Len64((m.size + m.size/8) >> fine))
	if n == 0 {
		return 0
	}
	return min(n-1, 63)
}

// learn takes the number that came, with its zigzag difference.
func (m *model) learn(x int64, diff uint64) {
	m.size += (min(diff, most) << fine >> m.seen) - m.size>>m.seen
	m.seen = min(m.seen+1, sizeShift)
	for p := range m.costs {
		off := x - m.guess[p]
		if off < 0 {
			off = -off
		}
		m.costs[p] += min(uint64(off), most)<<fine>>costShift - m.costs[p]>>costShift
	}
	for p := byQuick; p < numPredictors; p++ {
		m.means[p] += (x<<fine - m.means[p]) >> meanShift[p]
	}
	m.last, m.before = x, m.last
}

// start takes the first number, which is stored whole.
func (m *model) start(x int64) {
	m.last, m.before = x, x
	for p := byQuick; p < numPredictors; p++ {
		m.means[p] = x << fine
	}
}

func zigzag(x int64) uint64   { return uint64(x)<<1 ^ uint64(x>>63) }
func unzigzag(u uint64) int64 { return int64(u>>1) ^ -int64(u&1) }

// appendRice writes a series as Rice codes. The reader must know how many.
func appendRice(dst []byte, xs []int64) []byte {
	if len(xs) == 0 {
		return dst
	}
	dst = appendVarint(dst, xs[0])
	w := newBitWriter(dst)
	m := newModel()
	m.start(xs[0])
	for _, x := range xs[1:] {
		k := m.parameter()
		diff := zigzag(x - m.predict())
		if q := diff >> k; q <= longest {
			w.ones(uint(q))
			w.put(diff, k)
		} else {
			n := uint(bits.Len64(diff))
			w.put(1<<(longest+1)-1, longest+1)
			w.put(uint64(n-1), 6)
			w.put(diff, n)
		}
		m.learn(x, diff)
	}
	return w.bytes()
}

// readRice reads len(xs) numbers. ok is false where src ends too early or
// can't have been written so.
func readRice(xs []int64, src []byte) (ok bool) {
	if len(xs) == 0 {
		return len(src) == 0
	}
	first, src, ok := readVarint(src)
	if !ok {
		return false
	}
	r := bitReader{src: src}
	m := newModel()
	m.start(first)
	xs[0] = first
	for i := 1; i < len(xs); i++ {
		k := m.parameter()
		guess := m.predict()
		var diff uint64
		if q := r.ones(longest); q <= longest {
			diff = uint64(q)<<k | r.get(k)
		} else {
			diff = r.get(uint(r.get(6)) + 1)
		}
		xs[i] = guess + unzigzag(diff)
		m.learn(xs[i], diff)
	}
	return !r.short && len(r.src) == 0 && r.have < 8
}
