package hardware

import (
	"context"
	"fmt"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"headroom/sensors"
	"headroom/sensors/adc"
)

// lazyBus opens its bus with the first transfer and anew after release, so
// that a bus that is missing, or an adapter that was pulled and pushed in
// again, is tried with the driver's own back-off. The driver above makes one
// transfer at a time.
type lazyBus struct {
	number int
	open   func(number int) (i2c.BusCloser, error)

	mu   sync.Mutex
	bus  i2c.BusCloser
	busy bool // a transfer is under way
	drop bool // close the bus when it comes back
}

var _ i2c.Bus = (*lazyBus)(nil)

// String implements i2c.Bus.
func (b *lazyBus) String() string { return fmt.Sprintf("i2c-%d", b.number) }

// SetSpeed implements i2c.Bus; Linux takes the clock from its device tree.
func (b *lazyBus) SetSpeed(physic.Frequency) error {
	return fmt.Errorf("cannot set the clock of %s here: set it in the board's configuration", b)
}

// Tx implements i2c.Bus.
func (b *lazyBus) Tx(addr uint16, w, r []byte) error {
	b.mu.Lock()
	bus := b.bus
	b.busy = true
	b.mu.Unlock()
	var err error
	if bus == nil {
		if bus, err = b.open(b.number); err != nil {
			b.put(nil)
			return fmt.Errorf("cannot open %s: %w: is I2C switched on in the board's configuration, and the user in the group i2c?", b, err)
		}
	}
	err = bus.Tx(addr, w, r)
	b.put(bus)
	return err
}

// put gives the bus back after a transfer, or closes it where it was released
// meanwhile.
func (b *lazyBus) put(bus i2c.BusCloser) {
	b.mu.Lock()
	b.busy = false
	drop := b.drop
	b.drop, b.bus = false, bus
	if drop {
		b.bus = nil
	}
	b.mu.Unlock()
	if drop && bus != nil {
		_ = bus.Close() // it is given up, and nothing was buffered
	}
}

// release closes the bus, now or when the transfer that hangs comes back: a
// close would wait for it.
func (b *lazyBus) release() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.busy {
		b.drop = true
		return
	}
	if b.bus != nil {
		_ = b.bus.Close() // only reads and settings went over it
	}
	b.bus = nil
}

// converters is the driver of one bus, which is given back after each run.
type converters struct {
	*adc.Driver
	bus *lazyBus
}

// Run implements sensors.Driver.
func (c converters) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	defer c.bus.release()
	return c.Driver.Run(ctx, clock, post)
}
