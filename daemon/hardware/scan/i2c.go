package scan

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"periph.io/x/conn/v3/i2c"

	"headroom/sensors/gpiochip/bounded"
)

// The 7-bit addresses that parts may have; the rest is reserved. Source: NXP
// UM10204, table of reserved addresses.
const (
	firstAddr = 0x08
	lastAddr  = 0x77
	// probeLimit is how long one probe may take before the bus counts as hung.
	probeLimit = 500 * time.Millisecond
)

func (e Env) buses(ctx context.Context) []Bus {
	var out []Bus
	for _, path := range e.glob("dev/i2c-*") {
		number, err := strconv.Atoi(strings.TrimPrefix(filepath.Base(path), "i2c-"))
		if err != nil {
			continue
		}
		b := Bus{Number: number, Name: readLine(e.path("sys/class/i2c-dev", filepath.Base(path), "name"))}
		held := e.held(number)
		if e.OpenI2C != nil {
			b.Probed = true
			b.Parts, b.Problem = e.probe(ctx, number, held)
		}
		for addr, driver := range held {
			b.Parts = append(b.Parts, Part{Addr: addr, Driver: driver})
		}
		slices.SortFunc(b.Parts, func(a, b Part) int { return int(a.Addr) - int(b.Addr) })
		out = append(out, b)
	}
	return out
}

// held lists the addresses that the kernel's own drivers hold.
func (e Env) held(bus int) map[uint16]string {
	out := map[uint16]string{}
	prefix := fmt.Sprintf("%d-", bus)
	for _, path := range e.glob("sys/bus/i2c/devices/" + prefix + "*") {
		addr, err := strconv.ParseUint(strings.TrimPrefix(filepath.Base(path), prefix), 16, 16)
		if err != nil {
			continue
		}
		if driver, err := filepath.EvalSymlinks(filepath.Join(path, "driver")); err == nil {
			out[uint16(addr)] = filepath.Base(driver)
		}
	}
	return out
}

// probe asks every free address for one byte. A bus that hangs is left alone.
func (e Env) probe(ctx context.Context, number int, held map[uint16]string) (parts []Part, problem string) {
	slot := &bounded.Slot{}
	bus, err := bounded.Do(slot, probeLimit, func() (i2c.BusCloser, error) { return e.OpenI2C(number) }, func(late i2c.BusCloser) { _ = late.Close() })
	if err != nil {
		return nil, fmt.Sprintf("cannot be opened: %v", err)
	}
	for addr := uint16(firstAddr); addr <= lastAddr && ctx.Err() == nil; addr++ {
		if held[addr] != "" {
			continue
		}
		_, err := bounded.Do(slot, probeLimit, func() (struct{}, error) { return struct{}{}, bus.Tx(addr, nil, make([]byte, 1)) }, nil)
		if errors.Is(err, bounded.ErrLate) {
			return parts, fmt.Sprintf("hangs at address 0x%02x: check its wires for a short", addr) // closing would hang too
		}
		if err == nil {
			parts = append(parts, Part{Addr: addr, Guess: guess(addr)})
		}
	}
	if len(parts) == lastAddr-firstAddr+1-len(held) {
		problem = "answers at every address: its data line hangs at ground"
	}
	_ = bus.Close() // only reads went over it
	return parts, problem
}

// guess says what probably sits at an address, by what parts for this job have
// there: common practice, no source.
func guess(addr uint16) string {
	switch {
	case addr >= 0x48 && addr <= 0x4b:
		return "16-bit converter, or a thermometer with the same address"
	case addr >= 0x18 && addr <= 0x1b:
		return "1-wire bridge or acceleration sensor"
	case addr >= 0x20 && addr <= 0x27:
		return "line expander"
	case addr == 0x68:
		return "clock or acceleration sensor"
	case addr == 0x76 || addr == 0x77:
		return "barometer"
	}
	return ""
}
