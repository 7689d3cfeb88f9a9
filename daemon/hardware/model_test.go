package hardware

import (
	"errors"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// converterModel behaves as a 16-bit converter's registers do: a write of the
// config begins a conversion, which is done at once, and the code is that of
// the input and range that the config names. Source: data sheet of the part,
// table of the config register.
type converterModel struct {
	mu      sync.Mutex
	volts   map[uint16]float64 // by the bits MUX[2:0]
	config  uint16
	absent  bool
	hang    chan struct{}
	opened  int
	closed  int
	missing bool
}

func newModel(volts map[uint16]float64) *converterModel {
	return &converterModel{volts: volts, config: 0x8583}
}

// open stands for the kernel's bus.
func (m *converterModel) open(int) (i2c.BusCloser, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.missing {
		return nil, errors.New("no such file or directory")
	}
	m.opened++
	return m, nil
}

func (m *converterModel) set(change func(*converterModel)) {
	m.mu.Lock()
	defer m.mu.Unlock()
	change(m)
}

func (m *converterModel) counts() (opened, closed int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.opened, m.closed
}

var fullV = []float64{6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256}

func (m *converterModel) Tx(_ uint16, w, r []byte) error {
	m.mu.Lock()
	hang := m.hang
	m.mu.Unlock()
	if hang != nil {
		<-hang
		return errors.New("remote I/O error")
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.absent {
		return errors.New("remote I/O error")
	}
	if len(w) == 3 {
		m.config = uint16(w[1])<<8 | uint16(w[2])
		return nil
	}
	word := m.config | 1<<15
	if w[0] == 0 {
		word = uint16(int16(m.volts[m.config>>12&7] / fullV[m.config>>9&7] * 32768))
	}
	r[0], r[1] = byte(word>>8), byte(word)
	return nil
}

func (m *converterModel) String() string                  { return "model" }
func (m *converterModel) SetSpeed(physic.Frequency) error { return nil }
func (m *converterModel) Close() error                    { m.set(func(m *converterModel) { m.closed++ }); return nil }
func clockFrom(began time.Time) func() time.Duration {
	return func() time.Duration { return time.Since(began) }
}
