package codec

import (
	"encoding/binary"
	"fmt"

	"headroom/rules/frame"
)

// Block is one whose checksum is right, ready to be read channel by channel.
type Block struct {
	n           int
	times, wall []byte
	status      [frame.NumChannels][]byte
	values      [frame.NumChannels][]byte
	xs          []int64
}

// Open checks a block and finds its parts. It keeps b, which must not change
// while the block is in use. The error wraps ErrDamaged, or says that a newer
// program wrote the block.
func Open(b []byte) (*Block, error) {
	if len(b) < 1+sumBytes {
		return nil, fmt.Errorf("%w: it is cut off", ErrDamaged)
	}
	body := b[:len(b)-sumBytes]
	if Sum(body) != binary.LittleEndian.Uint32(b[len(body):]) {
		return nil, fmt.Errorf("%w: its checksum is wrong", ErrDamaged)
	}
	if body[0] != version {
		return nil, fmt.Errorf("cannot read a block of version %d, only %d is known here: update the program", body[0], version)
	}
	k := &Block{}
	if !k.cut(body[1:]) {
		return nil, fmt.Errorf("%w: its parts don't fit", ErrDamaged)
	}
	return k, nil
}

// cut finds the sections.
func (k *Block) cut(src []byte) (ok bool) {
	n, src, ok := readUvarint(src)
	if !ok || n > MaxFrames {
		return false
	}
	k.n = int(n)
	if k.times, src, ok = readSection(src); !ok {
		return false
	}
	if k.wall, src, ok = readSection(src); !ok {
		return false
	}
	mask, src, ok := readUvarint(src)
	if !ok || mask>>frame.NumChannels != 0 {
		return false
	}
	for ch := range k.status {
		if mask&(1<<ch) == 0 {
			continue
		}
		if k.status[ch], src, ok = readSection(src); !ok {
			return false
		}
		if k.values[ch], src, ok = readSection(src); !ok {
			return false
		}
	}
	k.xs = make([]int64, n)
	return len(src) == 0
}

// Len is the number of frames.
func (k *Block) Len() int { return k.n }

// Columns reads all frames into c, which is emptied first. The error wraps
// ErrDamaged; c then holds nothing of use.
func (k *Block) Columns(c *Columns) error {
	c.Reset()
	if err := k.Times(c); err != nil {
		return err
	}
	for ch := range k.status {
		if err := k.Channel(frame.Channel(ch), c); err != nil {
			return err
		}
	}
	return nil
}

// Times reads times and walls only.
func (k *Block) Times(c *Columns) error {
	c.T, c.Wall = zeros(c.T, k.n), zeros(c.Wall, k.n)
	if !readSteps(c.T, k.times) || !readInts(c.Wall, k.wall) {
		return fmt.Errorf("%w: its times can't be read", ErrDamaged)
	}
	return nil
}

// Channel reads one channel only; it stays empty where the block has none.
func (k *Block) Channel(ch frame.Channel, c *Columns) error {
	c.Values[ch], c.Status[ch] = c.Values[ch][:0], c.Status[ch][:0]
	if k.status[ch] == nil || k.n == 0 {
		return nil
	}
	c.Values[ch], c.Status[ch] = zeros(c.Values[ch], k.n), zeros(c.Status[ch], k.n)
	ok := readInts(k.xs, k.status[ch])
	for i, x := range k.xs {
		ok = ok && x >= 0 && x <= 255
		c.Status[ch][i] = byte(x)
	}
	if !ok || !readValues(c.Values[ch], k.xs, k.values[ch]) {
		return fmt.Errorf("%w: its channel %s can't be read", ErrDamaged, ch)
	}
	return nil
}

// readSteps reads what Encoder.steps wrote.
func readSteps(ts []int64, src []byte) (ok bool) {
	if len(ts) == 0 {
		return len(src) == 0
	}
	first, src, ok := readVarint(src)
	if !ok {
		return false
	}
	unit, src, ok := readUvarint(src)
	if !ok || !readInts(ts[1:], src) {
		return false
	}
	ts[0] = first
	for i := 1; i < len(ts); i++ {
		ts[i] = ts[i-1] + ts[i]*int64(unit)
	}
	return true
}
