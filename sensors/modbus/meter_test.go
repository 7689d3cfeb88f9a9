package modbus

import (
	"encoding/binary"
	"io"
	"sync"
	"time"
)

// meter is a slave with registers: a behavioural model, with the faults that
// meters and their wires have. It answers at the far end of any stream.
type meter struct {
	mu        sync.Mutex
	registers map[uint16]uint16
	fault     string
	asked     int
}

func (m *meter) set(fault string) {
	m.mu.Lock()
	m.fault = fault
	m.mu.Unlock()
}

func (m *meter) count() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.asked
}

// serve answers requests to the units until the stream ends.
func (m *meter) serve(rw io.ReadWriter, units ...byte) {
	for q := make([]byte, requestSize); ; {
		if _, err := io.ReadFull(rw, q); err != nil {
			return
		}
		m.mu.Lock()
		m.asked++
		fault, n := m.fault, m.asked
		m.mu.Unlock()
		var known bool
		for _, u := range units {
			known = known || u == q[0]
		}
		if !known || !goodCRC(q) {
			continue
		}
		for _, part := range m.answer(q, fault, n) {
			if part == nil {
				time.Sleep(20 * time.Millisecond)
				continue
			}
			if _, err := rw.Write(part); err != nil {
				return
			}
		}
	}
}

// answer gives the parts to send; nil is a pause.
func (m *meter) answer(q []byte, fault string, n int) [][]byte {
	address, count := binary.BigEndian.Uint16(q[2:]), binary.BigEndian.Uint16(q[4:])
	a := []byte{q[0], q[1], byte(2 * count)}
	for i := range count {
		v, ok := m.registers[address+i]
		if !ok {
			return [][]byte{withCRC([]byte{q[0], q[1] | exceptionBit, 2})}
		}
		a = binary.BigEndian.AppendUint16(a, v)
	}
	a = withCRC(a)
	switch fault {
	case "silent":
		return nil
	case "first silent":
		if n%2 == 1 {
			return nil
		}
	case "echo":
		return [][]byte{q, a}
	case "echo only":
		return [][]byte{q}
	case "noise":
		return [][]byte{{0x00, 0xff, 0x00}, a}
	case "split":
		return [][]byte{a[:3], nil, a[3:]}
	case "short":
		return [][]byte{a[:len(a)-1]}
	case "bad crc":
		a[len(a)-1] ^= 0xff
	case "other unit":
		a[0]++
		a = withCRC(a[:len(a)-2])
	case "busy":
		return [][]byte{withCRC([]byte{q[0], q[1] | exceptionBit, 6})}
	case "late": // after the master's 300 ms
		return append(make([][]byte, 20), a)
	}
	return [][]byte{a}
}
