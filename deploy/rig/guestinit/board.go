//go:build linux && amd64

package main

import (
	"fmt"
	"time"

	"headroom/deploy/rig/parts"
	"headroom/deploy/rig/usbip"
)

// Addresses on the board, 7 bits.
const (
	converterAddress = 0x48
	bridgeAddress    = 0x18
)

// board is everything a program under test can reach: two USB adapters (one
// with the converter, one with the 1-wire bridge, so that a stuck converter
// bus is not also a stuck thermometer), the pins, and the programs themselves.
type board struct {
	host      *host
	converter *parts.ADS1115
	bridge    *parts.DS2482
	i2c, wire *usbPort
	pins      *pins
	children  *children
	dog       dog
}

func newBoard(h *host) (*board, error) {
	now := func() time.Duration { return time.Since(started) }
	b := &board{
		host:      h,
		converter: parts.NewADS1115(now),
		bridge:    parts.NewDS2482(parts.NewDS18B20(now, 0x123456, 21.5), parts.NewDS18B20(now, 0xabcdef01, -7.25)),
		i2c:       &usbPort{number: 0, adapter: usbip.NewAdapter()},
		wire:      &usbPort{number: 1, adapter: usbip.NewAdapter()},
		children:  &children{host: h, all: map[string]*child{}},
	}
	b.i2c.adapter.Place(converterAddress, b.converter)
	b.wire.adapter.Place(bridgeAddress, b.bridge)
	var err error
	b.pins, err = newPins()
	return b, err
}

func (b *board) describe() string {
	return fmt.Sprintf("kernel %s, pins on %s", text("/proc/sys/kernel/osrelease"), b.pins.chip)
}

// plugWire plugs the 1-wire adapter and tells the kernel of the bridge on it,
// which on a real board the device tree does.
func (b *board) plugWire() (string, error) {
	bus, err := b.wire.plug()
	if err != nil {
		return "", err
	}
	if err := put(fmt.Sprintf("/sys/bus/i2c/devices/i2c-%d/new_device", bus), fmt.Sprintf("ds2482 %#x", bridgeAddress)); err != nil {
		return "", fmt.Errorf("cannot announce the 1-wire bridge: %w", err)
	}
	return fmt.Sprintf("bus %d", bus), nil
}

// findSensors waits until the kernel lists count thermometers.
func (b *board) findSensors(count int) (string, error) {
	begin := time.Now()
	var found []string
	err := until(8*time.Second, func() bool {
		found = listSensors()
		return len(found) == count
	})
	if err != nil {
		return "", fmt.Errorf("%d thermometers, wanted %d: %w", len(found), count, err)
	}
	return fmt.Sprintf("%v after %.2f s", found, time.Since(begin).Seconds()), nil
}
