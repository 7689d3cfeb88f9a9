// Package meter is the other end of a serial line: a Modbus RTU device with
// input and holding registers that answers reads, and that can be broken on
// purpose: silent, slow, talking garbage, with a wrong check sum or an
// exception. It owns framing and registers and refuses writes. It finds the end
// of a request by its length and not by a gap in time, since QEMU's serial
// ports have no baud rate.
//
// Source: Modbus Application Protocol V1.1b3, sections 6.3, 6.4 and 7; Modbus
// over Serial Line V1.02, section 2.5.1 and appendix B (check sum).
package meter

import (
	"encoding/binary"
	"io"
	"math"
	"sync"
	"time"
)

// Fault says how the meter misbehaves.
type Fault int

// The faults.
const (
	// Healthy answers as it should.
	Healthy Fault = iota
	// Silent doesn't answer.
	Silent
	// Garbage sends noise in place of an answer.
	Garbage
	// BadSum sends an answer whose check sum is wrong.
	BadSum
	// Short sends the first half of an answer.
	Short
	// Busy answers with the exception "server device busy".
	Busy
	// OtherUnit answers in the name of another device.
	OtherUnit
	// Echo sends the request back before the answer, as a two-wire line whose
	// receiver stays on does.
	Echo
)

// Requests and exceptions of the protocol.
const (
	readHolding, readInput                          = 3, 4
	exceptionFunction, exceptionAddress, exBusy     = 1, 2, 6
	exceptionBit, requestBytes, mostRegisters   int = 0x80, 8, 125
)

// Meter is the device. Make it with New.
type Meter struct {
	mu        sync.Mutex
	unit      byte
	registers map[uint16]uint16
	fault     Fault
	delay     time.Duration
	requests  int
}

// New makes a device with that address on the line.
func New(unit byte) *Meter { return &Meter{unit: unit, registers: map[uint16]uint16{}} }

// Set puts values in registers from address on; input and holding registers
// are the same here.
func (m *Meter) Set(address uint16, values ...uint16) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for i, v := range values {
		m.registers[address+uint16(i)] = v
	}
}

// SetFloat puts a 32-bit float in two registers, high word first.
func (m *Meter) SetFloat(address uint16, v float32) {
	b := math.Float32bits(v)
	m.Set(address, uint16(b>>16), uint16(b))
}

// Break sets the fault.
func (m *Meter) Break(f Fault) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.fault = f
}

// Delay makes the meter think that long before each answer.
func (m *Meter) Delay(d time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.delay = d
}

// Requests counts the good requests to this unit.
func (m *Meter) Requests() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.requests
}

// Serve answers on line until it closes.
func (m *Meter) Serve(line io.ReadWriter) {
	var buffer []byte
	chunk := make([]byte, 256)
	for {
		n, err := line.Read(chunk)
		if err != nil {
			return
		}
		buffer = append(buffer, chunk[:n]...)
		for len(buffer) >= requestBytes {
			request := buffer[:requestBytes]
			if Sum(request) != 0 { // out of step: look one byte further
				buffer = buffer[1:]
				continue
			}
			buffer = buffer[requestBytes:]
			answer, delay := m.answer(request)
			time.Sleep(delay)
			if _, err := line.Write(answer); err != nil {
				return
			}
		}
	}
}

// answer returns what to send for a request with a right check sum.
func (m *Meter) answer(request []byte) ([]byte, time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if request[0] != m.unit {
		return nil, 0
	}
	m.requests++
	good := seal(m.read(request))
	switch m.fault {
	case Silent:
		return nil, m.delay
	case Garbage:
		return []byte{0xff, 0x00, 0x55, 0xaa, 0x13, 0x37, 0xff}, m.delay
	case BadSum:
		good[len(good)-1] ^= 0xff
	case Short:
		good = good[:len(good)/2]
	case Busy:
		good = seal([]byte{m.unit, request[1] | byte(exceptionBit), exBusy})
	case OtherUnit:
		good = seal(append([]byte{m.unit + 1}, good[1:len(good)-2]...))
	case Echo:
		good = append(append([]byte(nil), request...), good...)
	}
	return good, m.delay
}

// read builds the answer without its check sum.
func (m *Meter) read(request []byte) []byte {
	function := request[1]
	refuse := func(code byte) []byte { return []byte{m.unit, function | byte(exceptionBit), code} }
	if function != readHolding && function != readInput {
		return refuse(exceptionFunction)
	}
	address, count := binary.BigEndian.Uint16(request[2:]), binary.BigEndian.Uint16(request[4:])
	if count == 0 || int(count) > mostRegisters {
		return refuse(3)
	}
	b := []byte{m.unit, function, byte(2 * count)}
	for i := range count {
		v, known := m.registers[address+i]
		if !known {
			return refuse(exceptionAddress)
		}
		b = binary.BigEndian.AppendUint16(b, v)
	}
	return b
}

// seal appends the check sum, low byte first.
func seal(b []byte) []byte { return binary.LittleEndian.AppendUint16(b, Sum(b)) }

// Sum is the protocol's check sum; over a whole frame it is 0.
func Sum(b []byte) uint16 {
	sum := uint16(0xffff)
	for _, x := range b {
		sum ^= uint16(x)
		for range 8 {
			low := sum & 1
			sum >>= 1
			if low != 0 {
				sum ^= 0xa001
			}
		}
	}
	return sum
}
