package brief

import (
	"encoding/binary"
	"math"

	"headroom/daemon/store/codec"
	"headroom/rules/frame"
)

const (
	version    = 1
	sumBytes   = 4
	maxBuckets = 1 << 16
	fields     = 6
)

// Append packs buckets: version, their number, the indices, the channels as
// bits, six series for each channel, and a CRC-32C.
func Append(dst []byte, bs []Bucket) []byte {
	begin := len(dst)
	dst = append(dst, version)
	dst = binary.AppendUvarint(dst, uint64(len(bs)))
	xs := make([]int64, len(bs))
	mask := uint64(0)
	for i := range bs {
		xs[i] = bs[i].Index
		for ch := range bs[i].Channels {
			if bs[i].Channels[ch].Frames > 0 {
				mask |= 1 << ch
			}
		}
	}
	dst = codec.AppendInts(dst, xs)
	dst = binary.AppendUvarint(dst, mask)
	for ch := range frame.NumChannels {
		if mask&(1<<ch) == 0 {
			continue
		}
		for f := range fields {
			for i := range bs {
				xs[i] = bs[i].Channels[ch].field(f)
			}
			dst = codec.AppendInts(dst, xs)
		}
	}
	return binary.LittleEndian.AppendUint32(dst, codec.Sum(dst[begin:]))
}

// field gives the number that is packed; the values come as ordered float32
// without their lowest bits.
func (s *Stat) field(f int) int64 {
	switch f {
	case 0:
		return s.Frames
	case 1:
		return s.Frames - s.OK
	case 2:
		return int64(s.Seen)
	}
	if s.OK == 0 {
		return 0
	}
	switch f {
	case 3:
		return down(s.Min)
	case 4:
		return -down(-s.Max)
	}
	return (ordered(float32(s.Mean)) + 1<<(dropped-1)) >> dropped
}

func (s *Stat) setField(f int, x int64) {
	switch f {
	case 0:
		s.Frames = x
	case 1:
		s.OK = s.Frames - x
	case 2:
		s.Seen = uint16(x)
	case 3:
		s.Min = unordered(x << dropped)
	case 4:
		s.Max = unordered(x << dropped)
	default:
		s.Mean = unordered(x << dropped)
	}
}

// dropped are the low bits of a float32 that are not kept: what is left is
// good for one part in 30,000, finer than any screen.
const dropped = 8

// down is the greatest number of those kept that isn't above v.
func down(v float64) int64 {
	x := ordered(float32(v))
	if unordered(x) > v {
		x--
	}
	return x >> dropped
}

// ordered maps a float32 to a whole number so that neighbours are neighbours
// and signs mirror. What a float32 can't hold becomes its greatest.
func ordered(v float32) int64 {
	v = max(min(v, math.MaxFloat32), -math.MaxFloat32)
	if v == 0 {
		return 0 // the negative one too
	}
	if v < 0 {
		return -int64(math.Float32bits(-v))
	}
	return int64(math.Float32bits(v))
}

// greatest is the greatest float32 as an ordered number.
const greatest = 0x7f7fffff

func unordered(x int64) float64 {
	x = max(min(x, greatest), -greatest)
	if x < 0 {
		return -float64(math.Float32frombits(uint32(-x)))
	}
	return float64(math.Float32frombits(uint32(x)))
}

// Read unpacks buckets; ok is false where they are damaged or of a newer
// version.
func Read(src []byte) (bs []Bucket, ok bool) { return read(src, all) }

// ReadChannel unpacks one channel only, and leaves the others zero.
func ReadChannel(src []byte, ch frame.Channel) (bs []Bucket, ok bool) { return read(src, 1<<ch) }

// all channels, as bits.
const all = 1<<frame.NumChannels - 1

func read(src []byte, want uint64) (bs []Bucket, ok bool) {
	if len(src) < 1+sumBytes {
		return nil, false
	}
	body := src[:len(src)-sumBytes]
	if codec.Sum(body) != binary.LittleEndian.Uint32(src[len(body):]) || body[0] != version {
		return nil, false
	}
	n, used := binary.Uvarint(body[1:])
	if used <= 0 || n > maxBuckets {
		return nil, false
	}
	xs := make([]int64, n)
	rest, ok := codec.ReadInts(xs, body[1+used:])
	if !ok {
		return nil, false
	}
	mask, used := binary.Uvarint(rest)
	if used <= 0 || mask&^all != 0 {
		return nil, false
	}
	bs = make([]Bucket, n)
	for i := range bs {
		bs[i].Index = xs[i]
	}
	return bs, readChannels(bs, mask, want, rest[used:])
}

func readChannels(bs []Bucket, mask, want uint64, rest []byte) (ok bool) {
	xs := make([]int64, len(bs))
	for ch := range frame.NumChannels {
		if mask&(1<<ch) == 0 {
			continue
		}
		for f := range fields {
			if want&(1<<ch) == 0 {
				if rest, ok = codec.SkipInts(rest); !ok {
					return false
				}
				continue
			}
			if rest, ok = codec.ReadInts(xs, rest); !ok {
				return false
			}
			for i := range bs {
				bs[i].Channels[ch].setField(f, xs[i])
			}
		}
	}
	return len(rest) == 0
}
