//go:build linux && amd64

package main

import (
	"fmt"
	"path/filepath"
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
	address   byte // the converter's, now
	bridge    *parts.DS2482
	i2c, wire *usbPort
	pins      *pins
	children  *children
	dog       dog
	wheel     wheel
	lag       lag
}

func newBoard(h *host) (*board, error) {
	now := func() time.Duration { return time.Since(started) }
	b := &board{
		host:      h,
		converter: parts.NewADS1115(now),
		address:   converterAddress,
		bridge:    parts.NewDS2482(parts.NewDS18B20(now, 0x123456, 21.5), parts.NewDS18B20(now, 0xabcdef01, -7.25)),
		i2c:       &usbPort{number: 0, adapter: usbip.NewAdapter()},
		wire:      &usbPort{number: 1, adapter: usbip.NewAdapter()},
		children:  &children{host: h, all: map[string]*child{}},
	}
	go b.lag.watch()
	b.i2c.adapter.Place(converterAddress, b.converter)
	b.wire.adapter.Place(bridgeAddress, b.bridge)
	var err error
	b.pins, err = newPins()
	return b, err
}

func (b *board) describe() string {
	return fmt.Sprintf("began at %.3f, kernel %s, pins on %s", startedAt, text("/proc/sys/kernel/osrelease"), b.pins.chip)
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

// searchWire switches the kernel's search for sensors on or off. It takes most
// of the emulated processor; on a board it comes every ten seconds.
func searchWire(on bool) error {
	masters, _ := filepath.Glob("/sys/bus/w1/devices/w1_bus_master*/w1_master_search")
	if len(masters) == 0 {
		return fmt.Errorf("there is no 1-wire bus: plug it first")
	}
	count := map[bool]string{true: "-1", false: "0"}[on]
	for _, m := range masters {
		if err := put(m, count); err != nil {
			return err
		}
	}
	return nil
}
