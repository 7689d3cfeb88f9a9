package codec

import "encoding/binary"

// How a series of whole numbers is written; the first byte of its section.
const (
	// intsSame: one number, n times.
	intsSame = iota
	// intsEach: Rice codes of all numbers.
	intsEach
	// intsRuns: the number of runs, a section of their lengths less one, and
	// the numbers that begin them.
	intsRuns
)

func appendVarint(dst []byte, x int64) []byte { return binary.AppendVarint(dst, x) }

func readVarint(src []byte) (x int64, rest []byte, ok bool) {
	x, n := binary.Varint(src)
	if n <= 0 {
		return 0, nil, false
	}
	return x, src[n:], true
}

func readUvarint(src []byte) (x uint64, rest []byte, ok bool) {
	x, n := binary.Uvarint(src)
	if n <= 0 {
		return 0, nil, false
	}
	return x, src[n:], true
}

// appendSection puts the length of what body appends before it.
func appendSection(dst []byte, scratch *[]byte, body func([]byte) []byte) []byte {
	*scratch = body((*scratch)[:0])
	dst = binary.AppendUvarint(dst, uint64(len(*scratch)))
	return append(dst, *scratch...)
}

// readSection cuts the next section off.
func readSection(src []byte) (section, rest []byte, ok bool) {
	n, src, ok := readUvarint(src)
	if !ok || n > uint64(len(src)) {
		return nil, nil, false
	}
	return src[:n], src[n:], true
}

// appendInts writes a series in whichever way is shortest. The reader must
// know how many there are.
func appendInts(dst []byte, xs []int64) []byte {
	lengths, heads := runs(xs)
	if len(heads) <= 1 {
		dst = append(dst, intsSame)
		if len(xs) > 0 {
			dst = appendVarint(dst, xs[0])
		}
		return dst
	}
	begin := len(dst)
	if len(heads) > len(xs)*3/4 {
		return appendRice(append(dst, intsEach), xs)
	}
	dst = append(dst, intsRuns)
	dst = binary.AppendUvarint(dst, uint64(len(heads)))
	packed := appendRice(nil, lengths)
	dst = binary.AppendUvarint(dst, uint64(len(packed)))
	dst = append(dst, packed...)
	dst = appendRice(dst, heads)
	if each := appendRice(nil, xs); len(each)+1 < len(dst)-begin {
		dst = append(append(dst[:begin], intsEach), each...)
	}
	return dst
}

// runs cuts a series into runs of one number: their lengths less one, and the
// numbers.
func runs(xs []int64) (lengths, heads []int64) {
	for i, x := range xs {
		if i > 0 && x == xs[i-1] {
			lengths[len(lengths)-1]++
			continue
		}
		lengths, heads = append(lengths, 0), append(heads, x)
	}
	return lengths, heads
}

// readInts fills xs with a series that appendInts wrote.
func readInts(xs []int64, src []byte) (ok bool) {
	if len(src) == 0 {
		return false
	}
	switch mode := src[0]; mode {
	case intsSame:
		return readSame(xs, src[1:])
	case intsEach:
		return readRice(xs, src[1:])
	case intsRuns:
		return readRuns(xs, src[1:])
	}
	return false
}

func readSame(xs []int64, src []byte) (ok bool) {
	if len(xs) == 0 {
		return len(src) == 0
	}
	x, rest, ok := readVarint(src)
	for i := range xs {
		xs[i] = x
	}
	return ok && len(rest) == 0
}

func readRuns(xs []int64, src []byte) (ok bool) {
	n, src, ok := readUvarint(src)
	if !ok || n > uint64(len(xs)) {
		return false
	}
	packed, src, ok := readSection(src)
	if !ok {
		return false
	}
	lengths, heads := make([]int64, n), make([]int64, n)
	if !readRice(lengths, packed) || !readRice(heads, src) {
		return false
	}
	at := 0
	for i, more := range lengths {
		if more < 0 || more >= int64(len(xs)-at) {
			return false
		}
		for range more + 1 {
			xs[at] = heads[i]
			at++
		}
	}
	return at == len(xs)
}

// AppendInts appends a series of whole numbers as a section, for those who
// keep numbers beside frames. Only a reader that knows how many there are can
// read them.
func AppendInts(dst []byte, xs []int64) []byte { return appendPacked(dst, xs) }

// ReadInts fills xs from the section at the beginning of src and returns what
// follows. ok is false where that isn't what AppendInts wrote.
func ReadInts(xs []int64, src []byte) (rest []byte, ok bool) {
	section, rest, ok := readSection(src)
	return rest, ok && readInts(xs, section)
}

// SkipInts returns what follows the section at the beginning of src.
func SkipInts(src []byte) (rest []byte, ok bool) {
	_, rest, ok = readSection(src)
	return rest, ok
}
