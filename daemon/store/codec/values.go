package codec

import (
	"encoding/binary"
	"math"
	"math/bits"
	"slices"
)

// How a channel's values are written; the first byte of their section.
const (
	// valuesOrdered: the bits of each value as an ordered number.
	valuesOrdered = iota
	// valuesGrid: offset and step, then a section of codes; after it the
	// values that are off the grid: how many, a section of the distances of
	// their places, and their bits as ordered numbers.
	valuesGrid
	// valuesTable: as valuesGrid, but with a section before the codes: for
	// each different code, ascending, how far its value lies beside the
	// grid's.
	valuesTable
	// valuesListed: the number of different values, a section of them
	// ascending, then the place of each in that list.
	valuesListed
)

// appendValues writes a channel's values. hint is the grid of the block before
// and becomes that of this one.
func appendValues(dst []byte, vs []float64, hint *grid) []byte {
	u := distinct(vs)
	if len(u) > 1 {
		f, ok := hint.try(u)
		if !ok {
			f, ok = findGrid(u)
		}
		if ok {
			*hint = f.grid
			return appendGrid(dst, vs, &f)
		}
	}
	begin := len(dst)
	if len(u) > 1 && len(u) <= len(vs)/2 {
		dst = appendListed(dst, vs, u)
	}
	xs := make([]int64, len(vs))
	for i, v := range vs {
		xs[i] = ordered(v)
	}
	if each := appendInts(nil, xs); len(dst) == begin || len(each) < len(dst)-begin-1 {
		dst = append(append(dst[:begin], valuesOrdered), each...)
	}
	return dst
}

// appendFloat writes the bits from the sign on, as round numbers end in zeros.
func appendFloat(dst []byte, x float64) []byte {
	return binary.AppendUvarint(dst, bits.Reverse64(math.Float64bits(x)))
}

func readFloat(src []byte) (x float64, rest []byte, ok bool) {
	u, rest, ok := readUvarint(src)
	return math.Float64frombits(bits.Reverse64(u)), rest, ok
}

// appendGrid writes codes. A value off the grid takes the code before it, as
// the cheapest.
func appendGrid(dst []byte, vs []float64, f *fit) []byte {
	codes := make([]int64, len(vs))
	var gaps, values []int64
	strange := func(v float64) bool { return len(f.strange) > 0 && slices.Contains(f.strange, ordered(v)) }
	last, _, _ := f.code(vs[slices.IndexFunc(vs, func(v float64) bool { return !strange(v) })])
	at := 0
	for i, v := range vs {
		if strange(v) {
			gaps, values = append(gaps, int64(i-at)), append(values, ordered(v))
			at = i
		} else {
			last, _, _ = f.code(v)
		}
		codes[i] = last
	}
	mode := byte(valuesGrid)
	if !f.exact {
		mode = valuesTable
	}
	dst = appendFloat(appendFloat(append(dst, mode), f.offset), f.step)
	if !f.exact {
		dst = appendPacked(dst, f.offs)
	}
	dst = appendPacked(dst, codes)
	dst = binary.AppendUvarint(dst, uint64(len(values)))
	if len(values) > 0 {
		dst = appendInts(appendPacked(dst, gaps), values)
	}
	return dst
}

// appendPacked writes numbers as a section.
func appendPacked(dst []byte, xs []int64) []byte {
	packed := appendInts(nil, xs)
	return append(binary.AppendUvarint(dst, uint64(len(packed))), packed...)
}

func appendListed(dst []byte, vs []float64, u []int64) []byte {
	dst = binary.AppendUvarint(append(dst, valuesListed), uint64(len(u)))
	dst = appendPacked(dst, u)
	places := make([]int64, len(vs))
	for i, v := range vs {
		p, _ := slices.BinarySearch(u, ordered(v))
		places[i] = int64(p)
	}
	return appendInts(dst, places)
}

// readValues fills vs with what appendValues wrote; xs is room for as many
// whole numbers.
func readValues(vs []float64, xs []int64, src []byte) (ok bool) {
	if len(src) == 0 {
		return false
	}
	mode, src := src[0], src[1:]
	switch mode {
	case valuesOrdered:
		ok = readInts(xs, src)
		for i, x := range xs {
			vs[i] = unordered(x)
		}
		return ok
	case valuesListed:
		return readListed(vs, xs, src)
	case valuesGrid, valuesTable:
	default:
		return false
	}
	var g grid
	if g.offset, src, ok = readFloat(src); !ok {
		return false
	}
	if g.step, src, ok = readFloat(src); !ok {
		return false
	}
	return readGrid(vs, xs, src, g, mode == valuesTable)
}

func readGrid(vs []float64, xs []int64, src []byte, g grid, tabled bool) (ok bool) {
	var offs []byte
	if tabled {
		if offs, src, ok = readSection(src); !ok {
			return false
		}
	}
	codes, src, ok := readSection(src)
	if !ok || !readInts(xs, codes) {
		return false
	}
	if !tabled {
		for i, x := range xs {
			vs[i] = g.value(x)
		}
	} else if !readTable(vs, xs, offs, g) {
		return false
	}
	return readStrange(vs, src)
}

// readStrange puts the values off the grid in their places.
func readStrange(vs []float64, src []byte) (ok bool) {
	n, src, ok := readUvarint(src)
	if !ok || n > uint64(len(vs)) {
		return false
	}
	if n == 0 {
		return len(src) == 0
	}
	packed, src, ok := readSection(src)
	gaps, values := make([]int64, n), make([]int64, n)
	if !ok || !readInts(gaps, packed) || !readInts(values, src) {
		return false
	}
	at := int64(0)
	for i, gap := range gaps {
		if gap < 0 || gap >= int64(len(vs))-at {
			return false
		}
		at += gap
		vs[at] = unordered(values[i])
	}
	return true
}

func readListed(vs []float64, xs []int64, src []byte) (ok bool) {
	n, src, ok := readUvarint(src)
	if !ok || n > uint64(len(vs)) {
		return false
	}
	packed, src, ok := readSection(src)
	if !ok {
		return false
	}
	list := make([]int64, n)
	if !readInts(list, packed) || !readInts(xs, src) {
		return false
	}
	for i, x := range xs {
		if x < 0 || x >= int64(n) {
			return false
		}
		vs[i] = unordered(list[x])
	}
	return true
}

// readTable turns codes into values with a correction for each code.
func readTable(vs []float64, xs []int64, src []byte, g grid) (ok bool) {
	if len(xs) == 0 {
		return false
	}
	least, greatest := slices.Min(xs), slices.Max(xs)
	if greatest-least < 0 || greatest-least > maxSpan {
		return false
	}
	table := make([]float64, greatest-least+1)
	seen := make([]bool, len(table))
	n := 0
	for _, x := range xs {
		if !seen[x-least] {
			seen[x-least] = true
			n++
		}
	}
	offs := make([]int64, n)
	if !readInts(offs, src) {
		return false
	}
	for i := range table {
		if seen[i] {
			table[i] = unordered(ordered(g.value(least+int64(i))) + offs[0])
			offs = offs[1:]
		}
	}
	for i, x := range xs {
		vs[i] = table[x-least]
	}
	return true
}
