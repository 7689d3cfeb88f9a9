package store

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// gorilla packs values by XOR with the one before: the coder of the time
// series database that the figures are compared with. Source: Pelkonen et al.,
// "Gorilla: A Fast, Scalable, In-Memory Time Series Database", VLDB 2015,
// section 4.1.2. It returns the number of bytes, values only.
func gorilla(vs []float64) int {
	n := 64 // bits of the first value
	before := math.Float64bits(vs[0])
	lead, trail := 255, 0
	for _, v := range vs[1:] {
		now := math.Float64bits(v)
		x := now ^ before
		before = now
		if x == 0 {
			n++
			continue
		}
		l, t := min(bits.LeadingZeros64(x), 31), bits.TrailingZeros64(x)
		if lead != 255 && l >= lead && t >= trail {
			n += 2 + 64 - lead - trail
			continue
		}
		lead, trail = l, t
		n += 2 + 5 + 6 + 64 - l - t
	}
	return (n + 7) / 8
}

// deltas packs codes as varints of their differences.
func deltas(dst []byte, codes []int64) []byte {
	last := int64(0)
	for _, c := range codes {
		dst = binary.AppendVarint(dst, c-last)
		last = c
	}
	return dst
}

// entropy is the order 0 entropy of the differences, in bytes a sample.
func entropy(codes []int64) float64 {
	count := map[int64]int{}
	for i := 1; i < len(codes); i++ {
		count[codes[i]-codes[i-1]]++
	}
	sum := 0.0
	for _, n := range count {
		p := float64(n) / float64(len(codes)-1)
		sum -= p * math.Log2(p)
	}
	return sum / 8
}
