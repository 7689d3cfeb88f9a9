package codec

import "math/bits"

// bitWriter appends bits, most significant first.
type bitWriter struct {
	dst  []byte
	acc  uint64
	room uint // free bits in acc
}

func newBitWriter(dst []byte) bitWriter { return bitWriter{dst: dst, room: 64} }

// put appends the n lowest bits of v, n up to 64.
func (w *bitWriter) put(v uint64, n uint) {
	if n < 64 {
		v &= 1<<n - 1
	}
	if n < w.room {
		w.acc = w.acc<<n | v
		w.room -= n
		return
	}
	rest := n - w.room
	// A shift by 64 gives 0, as is wanted where acc is empty.
	full := w.acc<<w.room | v>>rest
	w.dst = append(w.dst, byte(full>>56), byte(full>>48), byte(full>>40), byte(full>>32),
		byte(full>>24), byte(full>>16), byte(full>>8), byte(full))
	w.acc, w.room = v&(1<<rest-1), 64-rest
}

// ones appends n ones and a zero, n up to 63.
func (w *bitWriter) ones(n uint) { w.put(^uint64(1), n+1) }

// bytes ends with zeros up to a whole byte.
func (w *bitWriter) bytes() []byte {
	used := 64 - w.room
	acc := w.acc << w.room
	for ; used > 0; used -= min(used, 8) {
		w.dst = append(w.dst, byte(acc>>56))
		acc <<= 8
	}
	return w.dst
}

// bitReader reads what a bitWriter wrote. Beyond the end it gives zeros and
// remembers that it had to.
type bitReader struct {
	src   []byte
	acc   uint64 // the next bits, at the top
	have  uint
	short bool
}

func (r *bitReader) fill() {
	for r.have <= 56 && len(r.src) > 0 {
		r.acc |= uint64(r.src[0]) << (56 - r.have)
		r.src = r.src[1:]
		r.have += 8
	}
}

// get reads n bits, n up to 64.
func (r *bitReader) get(n uint) uint64 {
	if n > 32 {
		high := r.get(n - 32)
		return high<<32 | r.get(32)
	}
	if r.have < n {
		r.fill()
	}
	if r.have < n {
		r.short = true
		r.acc, r.have = 0, 0
		return 0
	}
	v := r.acc >> (64 - n)
	r.acc <<= n
	r.have -= n
	return v
}

// ones counts the ones up to the next zero, and takes that too. More than most
// is given as most+1, and then it stops after most+1 ones.
func (r *bitReader) ones(most uint) uint {
	if r.have <= most {
		r.fill()
	}
	n := uint(bits.LeadingZeros64(^r.acc))
	if n > most {
		r.get(most + 1)
		return most + 1
	}
	r.get(n + 1)
	return n
}
