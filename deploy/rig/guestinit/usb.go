//go:build linux && amd64

package main

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"headroom/deploy/rig/usbip"
)

const vhci = "/sys/devices/platform/vhci_hcd.0/"

// usbPort is one port of the kernel's virtual USB host, with an adapter in or
// out of it.
type usbPort struct {
	number  int
	adapter *usbip.Adapter
	served  chan error
}

// plugTime is how long the kernel may take to let go of an unplugged adapter,
// or to find a new one: the 1-wire master first ends what it is at.
const plugTime = 15 * time.Second

// plug puts the adapter in and returns the number of its I2C bus. The old bus
// must be gone first, or its number would pass for the new one's; a program
// that still holds it open makes the new number a higher one.
func (p *usbPort) plug() (int, error) {
	gone := func() bool { _, there := p.bus(); return !there }
	if err := until(plugTime, gone); err != nil {
		return 0, fmt.Errorf("the I2C bus at USB port %d is still there: unplug first: %w", p.number, err)
	}
	pair, err := syscall.Socketpair(syscall.AF_UNIX, syscall.SOCK_STREAM, 0)
	if err != nil {
		return 0, fmt.Errorf("cannot make a socket pair: %w", err)
	}
	defer syscall.Close(pair[0])
	ours := os.NewFile(uintptr(pair[1]), "usbip")
	conn, err := net.FileConn(ours)
	ours.Close()
	if err != nil {
		return 0, fmt.Errorf("cannot use the socket: %w", err)
	}
	p.served = make(chan error, 1)
	go func() {
		defer conn.Close()
		p.served <- usbip.Serve(conn, p.adapter)
	}()
	if err := put(vhci+"attach", fmt.Sprintf("%d %d %d %d", p.number, pair[0], p.number+1, usbip.Speed)); err != nil {
		return 0, fmt.Errorf("cannot plug USB port %d: %w", p.number, err)
	}
	var bus int
	err = until(plugTime, func() bool {
		var ok bool
		bus, ok = p.bus()
		return ok
	})
	if err != nil {
		return 0, fmt.Errorf("no I2C bus came up at USB port %d: %w", p.number, err)
	}
	return bus, nil
}

// unplug pulls the adapter out and waits for the device side to notice.
func (p *usbPort) unplug() error {
	if err := put(vhci+"detach", strconv.Itoa(p.number)); err != nil {
		return fmt.Errorf("cannot unplug USB port %d: %w", p.number, err)
	}
	select {
	case <-p.served:
		return nil
	case <-time.After(5 * time.Second):
		return fmt.Errorf("USB port %d unplugged, and the kernel kept the connection: %w", p.number, errLate)
	}
}

// bus finds the I2C bus whose parent is this port: its device path holds the
// USB name 1-1, 1-2 and so on.
func (p *usbPort) bus() (int, bool) {
	buses, _ := filepath.Glob("/sys/bus/i2c/devices/i2c-*")
	for _, b := range buses {
		real, err := filepath.EvalSymlinks(b)
		if err != nil || !strings.Contains(real, fmt.Sprintf("/1-%d/", p.number+1)) {
			continue
		}
		n, err := strconv.Atoi(strings.TrimPrefix(filepath.Base(b), "i2c-"))
		if err != nil {
			continue
		}
		if _, err := os.Stat(fmt.Sprintf("/dev/i2c-%d", n)); err == nil {
			return n, true
		}
	}
	return 0, false
}
