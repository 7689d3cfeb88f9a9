package parts

import (
	"errors"
	"fmt"
	"sync"
)

// Commands, registers and status bits of the bridge (19-4930).
const (
	cmdReset, cmdSetPointer, cmdWriteConfig      = 0xf0, 0xe1, 0xd2
	cmdBusReset, cmdBit, cmdWriteByte            = 0xb4, 0x87, 0xa5
	cmdReadByte, cmdTriplet                      = 0x96, 0x78
	regStatus, regData, regConfig                = 0xf0, 0xe1, 0xc3
	bitPresence, bitLevel, bitReset              = 0x02, 0x08, 0x10
	bitSingle, bitTriplet, bitDirection     byte = 0x20, 0x40, 0x80
)

// DS2482 is the bridge from I2C to 1-wire, with thermometers behind it. Every
// 1-wire step is over before its I2C transfer ends, so the busy bit never
// shows.
type DS2482 struct {
	mu      sync.Mutex
	sensors []*DS18B20
	pointer byte
	status  byte
	data    byte
	config  byte
	sent    []byte
}

// NewDS2482 makes a bridge after power-on with these thermometers.
func NewDS2482(sensors ...*DS18B20) *DS2482 {
	return &DS2482{sensors: sensors, status: bitLevel | bitReset, pointer: regStatus}
}

// ErrNoSensor says that the bridge has no thermometer of that number.
var ErrNoSensor = errors.New("no such thermometer")

// Change applies f to thermometer number i.
func (m *DS2482) change(i int, f func(d *DS18B20)) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if i < 0 || i >= len(m.sensors) {
		return fmt.Errorf("thermometer %d: %w", i, ErrNoSensor)
	}
	f(m.sensors[i])
	return nil
}

// SetTemp puts thermometer i at a temperature, degrees Celsius.
func (m *DS2482) SetTemp(i int, tempC float64) error {
	return m.change(i, func(d *DS18B20) { d.tempC = tempC })
}

// Pull unplugs thermometer i, or plugs it in again, after power-on.
func (m *DS2482) Pull(i int, pulled bool) error {
	return m.change(i, func(d *DS18B20) { d.pulled = pulled; d.powerOn(); d.state = idle })
}

// BadCRC makes thermometer i send a wrong check byte with its memory.
func (m *DS2482) BadCRC(i int, bad bool) error {
	return m.change(i, func(d *DS18B20) { d.badCRC = bad })
}

// Brownout makes every conversion of thermometer i end at its power-on value,
// 85 degrees, as when its supply dips during a conversion.
func (m *DS2482) Brownout(i int, on bool) error {
	return m.change(i, func(d *DS18B20) { d.stuckAt = on })
}

// Start implements the bus's side of the chip.
func (m *DS2482) Start(read bool) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	if !read {
		m.sent = m.sent[:0]
	}
	return true
}

// Stop ends a transfer; all has happened by then.
func (m *DS2482) Stop() {}

// Read gives the pointed register.
func (m *DS2482) Read() byte {
	m.mu.Lock()
	defer m.mu.Unlock()
	switch m.pointer {
	case regStatus:
		return m.status
	case regData:
		return m.data
	case regConfig:
		return m.config
	}
	return 0xff
}

// Write takes a command, and for most of them a parameter.
func (m *DS2482) Write(b byte) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.sent = append(m.sent, b)
	if len(m.sent) == 1 {
		return m.command(b)
	}
	return m.parameter(m.sent[0], b)
}

func (m *DS2482) command(c byte) bool {
	switch c {
	case cmdReset:
		m.status, m.config = bitLevel|bitReset, 0
	case cmdBusReset:
		m.status = bitLevel
		m.each(func(d *DS18B20) {
			d.reset()
			m.status |= bitPresence
		})
	case cmdReadByte:
		m.data = 0
		for i := range 8 {
			if m.sample() {
				m.data |= 1 << i
			}
		}
	case cmdSetPointer, cmdWriteConfig, cmdBit, cmdWriteByte, cmdTriplet:
		return true
	default:
		return false
	}
	m.pointer = regStatus
	return true
}

func (m *DS2482) parameter(c, b byte) bool {
	m.pointer = regStatus
	switch c {
	case cmdSetPointer:
		m.pointer = b
	case cmdWriteConfig:
		if b>>4 != ^b&15 { // the high half is the low half inverted
			return false
		}
		m.config, m.pointer = b&15, regConfig
		m.status &^= bitReset
	case cmdWriteByte:
		for i := range 8 {
			bit := b>>i&1 == 1
			m.each(func(d *DS18B20) { d.write(bit) })
		}
	case cmdBit:
		m.slot(b&0x80 != 0)
	case cmdTriplet:
		m.triplet(b&0x80 != 0)
	default:
		return false
	}
	return true
}

// each runs f on the thermometers that are plugged in.
func (m *DS2482) each(f func(d *DS18B20)) {
	for _, d := range m.sensors {
		if !d.pulled {
			f(d)
		}
	}
}

// sample is a read slot: the wire is low when any thermometer pulls it.
func (m *DS2482) sample() bool {
	level := true
	m.each(func(d *DS18B20) { level = d.sample() && level })
	return level
}

// slot is one bit on the wire: writing a 1 and reading are the same slot.
func (m *DS2482) slot(one bool) {
	m.status &^= bitSingle
	if one && m.sample() {
		m.status |= bitSingle
	}
	m.each(func(d *DS18B20) {
		if d.state != sending && d.state != busy {
			d.write(one)
		}
	})
}

// triplet is a step of a search: bit, its complement, and the way to go.
func (m *DS2482) triplet(direction bool) {
	id, complement := true, true
	m.each(func(d *DS18B20) {
		if d.state == searching {
			id, complement = id && d.romBit(), complement && !d.romBit()
		}
	})
	if id != complement {
		direction = id
	} else if id {
		direction = true // nobody answers
	}
	m.each(func(d *DS18B20) {
		if d.state == searching {
			d.write(direction)
		}
	})
	m.status &^= bitSingle | bitTriplet | bitDirection
	for _, s := range []struct {
		on  bool
		bit byte
	}{{id, bitSingle}, {complement, bitTriplet}, {direction, bitDirection}} {
		if s.on {
			m.status |= s.bit
		}
	}
}
