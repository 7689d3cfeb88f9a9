//go:build rig && linux

package main

import (
	"fmt"
	"sync"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/host/v3/sysfs"
)

// reopening is an I2C bus that is opened on use and let go after an error: an
// adapter that was unplugged while a program holds its bus open can't come
// back, not even under another number, since the kernel waits for the program.
type reopening struct {
	number int
	mu     sync.Mutex
	bus    i2c.BusCloser
}

func (r *reopening) String() string { return fmt.Sprintf("I2C%d", r.number) }

// Tx implements i2c.Bus.
func (r *reopening) Tx(addr uint16, w, in []byte) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.bus == nil {
		bus, err := sysfs.NewI2C(r.number)
		if err != nil {
			return fmt.Errorf("cannot open I2C bus %d: %w", r.number, err)
		}
		r.bus = bus
	}
	err := r.bus.Tx(addr, w, in)
	if err != nil {
		r.bus.Close()
		r.bus = nil
	}
	return err
}

// SetSpeed implements i2c.Bus; Linux takes the speed from elsewhere.
func (r *reopening) SetSpeed(physic.Frequency) error { return nil }
