package codec

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"

	"headroom/rules/frame"
)

const (
	version = 1
	// MaxFrames is the most that a block may hold, so that a damaged length
	// can't ask for all the memory.
	MaxFrames = 1 << 17
	sumBytes  = 4
)

// ErrDamaged is the error of a block whose checksum or structure is wrong.
var ErrDamaged = errors.New("the block is damaged")

// castagnoli is the polynomial that processors compute; constant data.
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// Sum is the checksum that blocks end with, CRC-32C.
func Sum(b []byte) uint32 { return crc32.Checksum(b, castagnoli) }

// Encoder makes blocks. It remembers each channel's grid, as the next block is
// likely to have the same. The zero value is ready; it is for one goroutine.
type Encoder struct {
	grids   [frame.NumChannels]grid
	scratch []byte
	xs      []int64
}

// Append appends the block of the columns to dst. More than MaxFrames frames
// are an error.
func (e *Encoder) Append(dst []byte, c *Columns) ([]byte, error) {
	n := c.Len()
	if n > MaxFrames {
		return dst, fmt.Errorf("cannot put %d frames into one block: it holds at most %d", n, MaxFrames)
	}
	begin := len(dst)
	dst = append(dst, version)
	dst = binary.AppendUvarint(dst, uint64(n))
	e.xs = append(e.xs[:0], c.T...)
	dst = appendSection(dst, &e.scratch, e.steps)
	e.xs = append(e.xs[:0], c.Wall...)
	dst = appendSection(dst, &e.scratch, e.ints)
	mask := uint64(0)
	for ch := range c.Status {
		if len(c.Status[ch]) > 0 {
			mask |= 1 << ch
		}
	}
	dst = binary.AppendUvarint(dst, mask)
	for ch := range c.Status {
		if mask&(1<<ch) == 0 {
			continue
		}
		e.xs = e.xs[:0]
		for _, s := range c.Status[ch] {
			e.xs = append(e.xs, int64(s))
		}
		dst = appendSection(dst, &e.scratch, e.ints)
		dst = appendSection(dst, &e.scratch, func(b []byte) []byte {
			return appendValues(b, c.Values[ch], &e.grids[ch])
		})
	}
	return binary.LittleEndian.AppendUint32(dst, Sum(dst[begin:])), nil
}

func (e *Encoder) ints(dst []byte) []byte { return appendInts(dst, e.xs) }

// steps writes times: the first, a unit that all distances are multiples of,
// and the distances in it.
func (e *Encoder) steps(dst []byte) []byte {
	if len(e.xs) == 0 {
		return dst
	}
	dst = appendVarint(dst, e.xs[0])
	unit := uint64(0)
	for i := len(e.xs) - 1; i > 0; i-- {
		e.xs[i] -= e.xs[i-1]
		unit = divisor(unit, uint64(e.xs[i]))
	}
	// A distance that is negative or huge, as an unsigned number, is still a
	// whole multiple of 1.
	if unit == 0 || int64(unit) < 0 || backwards(e.xs[1:]) {
		unit = 1
	}
	dst = binary.AppendUvarint(dst, unit)
	for i := range e.xs[1:] {
		e.xs[i+1] /= int64(unit)
	}
	return appendInts(dst, e.xs[1:])
}

func backwards(xs []int64) bool {
	for _, x := range xs {
		if x < 0 {
			return true
		}
	}
	return false
}

// divisor is the greatest common one.
func divisor(a, b uint64) uint64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
