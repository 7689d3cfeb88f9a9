package thermo1w

import (
	"fmt"
	"os"
	"path/filepath"
)

// DefaultRoot is where the kernel shows 1-wire devices.
const DefaultRoot = "/sys/bus/w1/devices"

// Source is a way to ask sensors for their temperature. Read may block for as
// long as the bus hangs; the driver bounds it.
type Source interface {
	// Read measures now and returns thousandths of a degree Celsius. A *Fault
	// concerns this sensor; any other error means that the bus is gone.
	Read(s Serial) (milliC float64, err error)
	// Close gives the bus back.
	Close() error
}

// Files reads through the kernel's w1_therm files.
type Files struct {
	// Root is the folder with one folder per sensor; empty is DefaultRoot.
	Root string
}

var _ Source = Files{}

// Read implements Source. It takes w1_slave, which shows the bytes and the
// checksum, and temperature only where a kernel has no w1_slave.
func (f Files) Read(s Serial) (float64, error) {
	root := f.Root
	if root == "" {
		root = DefaultRoot
	}
	if _, err := os.Stat(root); err != nil {
		return 0, fmt.Errorf("cannot find the 1-wire bus: %w: is it switched on in the board's configuration?", err)
	}
	for _, way := range []struct {
		file  string
		parse func(string) (float64, *Fault)
	}{{"w1_slave", parseSlave}, {"temperature", parseTemperature}} {
		path := filepath.Join(root, string(s), way.file)
		if _, err := os.Stat(path); err != nil {
			continue
		}
		// The file exists, so whatever fails now is the sensor: it was pulled,
		// or did not answer. Which errno that gives depends on the kernel.
		b, err := os.ReadFile(path)
		if err != nil {
			return 0, errEmpty
		}
		return orError(way.parse(string(b)))
	}
	return 0, errLost
}

// orError keeps a nil *Fault from becoming an error that isn't nil.
func orError(v float64, f *Fault) (float64, error) {
	if f != nil {
		return 0, f
	}
	return v, nil
}

// Close implements Source; there is nothing to close.
func (f Files) Close() error { return nil }
