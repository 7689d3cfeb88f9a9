package parts

import (
	"encoding/binary"
	"math"
	"time"
)

// Commands of the thermometer (19-7487, tables 3 and ROM commands).
const (
	romSearch, romRead, romMatch, romSkip                 = 0xf0, 0x33, 0x55, 0xcc
	funcConvert, funcRead, funcWrite, funcCopy, funcPower = 0x44, 0xbe, 0x4e, 0x48, 0xb4
	funcRecall                                            = 0xb8
)

// state is where the thermometer stands between two resets of its bus.
type state int

const (
	idle state = iota
	awaitROM
	matching
	searching
	awaitFunction
	writing
	sending
	busy
)

// DS18B20 is a thermometer on a 1-wire bus, bit by bit. It is used only
// through the bridge that holds it, which also guards it.
type DS18B20 struct {
	now     func() time.Duration
	rom     [8]byte
	scratch [9]byte
	tempC   float64
	pulled  bool
	badCRC  bool
	stuckAt bool // conversions leave the power-on value

	state    state
	bits     int
	current  byte
	position int
	out      []byte
	busyTill time.Duration
}

// NewDS18B20 makes a thermometer after power-on (85 degrees in its memory) at
// tempC. serial is its 48-bit number.
func NewDS18B20(now func() time.Duration, serial uint64, tempC float64) *DS18B20 {
	d := &DS18B20{now: now, tempC: tempC}
	var b [8]byte
	binary.LittleEndian.PutUint64(b[:], serial)
	d.rom[0] = 0x28
	copy(d.rom[1:7], b[:6])
	d.rom[7] = CRC8(d.rom[:7])
	d.powerOn()
	return d
}

func (d *DS18B20) powerOn() {
	d.scratch = [9]byte{0x50, 0x05, 0x4b, 0x46, 0x7f, 0xff, 0x0c, 0x10}
	d.scratch[8] = CRC8(d.scratch[:8])
}

// reset is the bus's reset pulse.
func (d *DS18B20) reset() {
	d.state, d.bits, d.current, d.position, d.out = awaitROM, 0, 0, 0, nil
}

// romBit is the bit of its number that a search stands at.
func (d *DS18B20) romBit() bool { return d.rom[d.position/8]>>(d.position%8)&1 == 1 }

// write takes a bit from the bus's master.
func (d *DS18B20) write(bit bool) {
	switch d.state {
	case idle, sending, busy:
		return
	case searching:
		if d.romBit() != bit {
			d.state = idle
			return
		}
		if d.position++; d.position == 64 {
			d.state = idle
		}
		return
	}
	if bit {
		d.current |= 1 << d.bits
	}
	if d.bits++; d.bits == 8 {
		b := d.current
		d.current, d.bits = 0, 0
		d.take(b)
	}
}

func (d *DS18B20) take(b byte) {
	switch d.state {
	case awaitROM:
		d.takeROM(b)
	case matching:
		if d.rom[d.position] != b {
			d.state = idle
		} else if d.position++; d.position == 8 {
			d.state = awaitFunction
		}
	case awaitFunction:
		d.takeFunction(b)
	case writing:
		d.scratch[2+d.position] = b
		if d.position++; d.position == 3 {
			d.scratch[4] = d.scratch[4]&0x60 | 0x1f
			d.scratch[8] = CRC8(d.scratch[:8])
			d.state = idle
		}
	}
}

func (d *DS18B20) takeROM(b byte) {
	d.position = 0
	switch b {
	case romSearch:
		d.state = searching
	case romSkip:
		d.state = awaitFunction
	case romMatch:
		d.state = matching
	case romRead:
		d.send(d.rom[:])
	default:
		d.state = idle
	}
}

func (d *DS18B20) takeFunction(b byte) {
	switch b {
	case funcConvert:
		d.convert()
	case funcRead:
		s := d.scratch
		if d.badCRC {
			s[8] ^= 0x55
		}
		d.send(s[:])
	case funcWrite:
		d.state, d.position = writing, 0
	case funcPower, funcRecall, funcCopy:
		d.send([]byte{0xff}) // own supply; and done at once
	default:
		d.state = idle
	}
}

// convert rounds to the resolution in the config byte: 9 to 12 bits, 94 to
// 750 ms (19-7487, table 2).
func (d *DS18B20) convert() {
	resolution := uint(d.scratch[4] >> 5 & 3)
	d.busyTill = d.now() + 750*time.Millisecond>>(3-resolution)
	d.state = busy
	if d.stuckAt {
		d.powerOn()
		return
	}
	code := int16(math.Round(d.tempC*16)) &^ (1<<(3-resolution) - 1)
	binary.LittleEndian.PutUint16(d.scratch[:], uint16(code))
	d.scratch[8] = CRC8(d.scratch[:8])
}

func (d *DS18B20) send(b []byte) {
	d.state, d.out, d.position = sending, append([]byte(nil), b...), 0
}

// sample is a read slot: what the thermometer lets the wire be.
func (d *DS18B20) sample() bool {
	switch d.state {
	case sending:
		if d.position >= len(d.out)*8 {
			return true
		}
		bit := d.out[d.position/8]>>(d.position%8)&1 == 1
		d.position++
		return bit
	case busy:
		return d.now() >= d.busyTill
	}
	return true
}
