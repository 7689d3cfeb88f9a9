package thermo1w

import (
	"fmt"
	"time"

	"periph.io/x/conn/v3/onewire"
)

// Commands of the part, from its data sheet.
const (
	cmdConvert = 0x44
	cmdRead    = 0xbe
	// convertTime is the longest conversion at 12 bit.
	convertTime = 750 * time.Millisecond
)

// Bus reads through a 1-wire bus of periph, for example one behind a bridge
// chip that the kernel doesn't know.
type Bus struct {
	// Wire is the bus. Bus closes it if it can be closed.
	Wire onewire.Bus
	// Parasite asks for a strong pull-up during the conversion, for sensors
	// without a supply wire. Not every bus can give it.
	Parasite bool
}

var _ Source = (*Bus)(nil)

// Read implements Source: it starts a conversion in that one sensor, waits
// 750 ms and reads the nine bytes with their checksum.
func (b *Bus) Read(s Serial) (float64, error) {
	address, err := s.Address()
	if err != nil {
		return 0, err
	}
	dev := onewire.Dev{Bus: b.Wire, Addr: address}
	start := dev.Tx
	if b.Parasite {
		start = dev.TxPower
	}
	if err := start([]byte{cmdConvert}, nil); err != nil {
		return 0, b.explain(err)
	}
	time.Sleep(convertTime)
	var pad [scratchSize]byte
	if err := dev.Tx([]byte{cmdRead}, pad[:]); err != nil {
		return 0, b.explain(err)
	}
	if pad == [scratchSize]byte{0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff} {
		return 0, errSilent // nobody pulled the wire down
	}
	return orError(decode(pad))
}

// explain sorts periph's errors by the interfaces it defines for that.
func (b *Bus) explain(err error) error {
	if e, ok := err.(onewire.ShortedBusError); ok && e.IsShorted() {
		return errLow
	}
	if e, ok := err.(onewire.NoDevicesError); ok && e.NoDevices() {
		return errSilent
	}
	return fmt.Errorf("cannot use the 1-wire bus %s: %w", b.Wire, err)
}

// Close implements Source.
func (b *Bus) Close() error {
	if c, ok := b.Wire.(onewire.BusCloser); ok {
		return c.Close()
	}
	return nil
}
