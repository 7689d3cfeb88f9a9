// Package scan looks for what a config could use: I2C buses and what answers
// on them, 1-wire thermometers, GPIO lines by name, serial ports. It owns the
// list and the proposal of a config that comes from it. It refuses to change
// anything: a probe is one read of one byte, addresses that a kernel driver
// holds are left alone, and no GPIO line is requested.
package scan

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"periph.io/x/conn/v3/i2c"
)

// Env is where to look. The zero value is the running system without probes.
type Env struct {
	// Root stands before /dev and /sys; empty for the running system.
	Root string
	// OpenI2C opens a bus for the probes; nil probes nothing.
	OpenI2C func(number int) (i2c.BusCloser, error)
	// Chip lists the lines of a GPIO chip; nil asks the kernel.
	Chip func(path string) (Chip, error)
}

// Found is what is there.
type Found struct {
	Buses []Bus
	// Thermometers are serials that can be read, Others further 1-wire parts.
	Thermometers, Others []string
	Chips                []Chip
	Ports                []Port
}

// Bus is one I2C bus.
type Bus struct {
	Number int
	// Name is the adapter's.
	Name string
	// Parts in order of their addresses.
	Parts []Part
	// Probed is false where nothing was asked.
	Probed bool
	// Problem says why the bus could not be asked, or not to the end.
	Problem string
}

// Part is what has an address on a bus.
type Part struct {
	Addr uint16
	// Driver is the kernel's driver that holds it; such a part is not probed.
	Driver string
	// Guess is what it probably is, empty for no idea.
	Guess string
}

// Converter reports whether it may be one that the config's [[sensors.adc]]
// can read.
func (p Part) Converter() bool { return p.Driver == "" && p.Addr >= 0x48 && p.Addr <= 0x4b }

// Chip is one GPIO chip.
type Chip struct {
	Path, Label string
	Lines       []Line
	Problem     string
}

// Line is one GPIO line.
type Line struct {
	Offset uint32
	Name   string
	// User is who holds it, empty when it is free.
	User string
}

// Port is one serial port.
type Port struct {
	Path string
	// Target is the device that a link points to.
	Target string
}

// Run looks everywhere. It goes on where one thing can't be looked at, and says
// so there.
func (e Env) Run(ctx context.Context) Found {
	f := Found{Buses: e.buses(ctx), Ports: e.ports()}
	f.Thermometers, f.Others = e.oneWire()
	list := e.Chip
	if list == nil {
		list = listChip
	}
	for _, path := range e.glob("dev/gpiochip*") {
		if info, err := os.Lstat(path); err == nil && info.Mode()&os.ModeSymlink != 0 {
			continue // an old name of another chip
		}
		c, err := list(path)
		c.Path = e.shown(path)
		if err != nil {
			c.Problem = err.Error()
		}
		f.Chips = append(f.Chips, c)
	}
	return f
}

func (e Env) path(parts ...string) string {
	return filepath.Join(append([]string{"/", e.Root}, parts...)...)
}

// glob lists the matches in natural order: i2c-2 before i2c-10.
func (e Env) glob(pattern string) []string {
	all, _ := filepath.Glob(e.path(pattern)) // the patterns are good
	slices.SortFunc(all, func(a, b string) int {
		if len(a) != len(b) {
			return len(a) - len(b)
		}
		return strings.Compare(a, b)
	})
	return all
}

// shown is a path as the system itself knows it.
func (e Env) shown(path string) string {
	if e.Root == "" {
		return path
	}
	return "/" + strings.TrimPrefix(strings.TrimPrefix(path, e.path()), "/")
}

// readLine reads a small file of sysfs; empty where there is none.
func readLine(path string) string {
	b, err := os.ReadFile(path)
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(b))
}

var (
	oneWireForm = regexp.MustCompile(`^[0-9a-f]{2}-[0-9a-f]{12}$`)
	thermometer = regexp.MustCompile(`^(28|22|42)-`)
)

func (e Env) oneWire() (thermometers, others []string) {
	for _, path := range e.glob("sys/bus/w1/devices/*") {
		switch name := filepath.Base(path); {
		case !oneWireForm.MatchString(name):
		case thermometer.MatchString(name):
			thermometers = append(thermometers, name)
		default:
			others = append(others, name)
		}
	}
	return thermometers, others
}

// ports lists the serial ports: by their lasting names where there are any.
func (e Env) ports() []Port {
	var out []Port
	named := map[string]bool{}
	for _, path := range e.glob("dev/serial/by-id/*") {
		target, err := os.Readlink(path)
		if err != nil {
			continue
		}
		device := "/dev/" + filepath.Base(target)
		named[device] = true
		out = append(out, Port{e.shown(path), device})
	}
	for _, pattern := range []string{"dev/ttyUSB*", "dev/ttyACM*", "dev/ttyAMA*", "dev/ttyS*"} {
		for _, path := range e.glob(pattern) {
			kind := readLine(e.path("sys/class/tty", filepath.Base(path), "type"))
			if named[e.shown(path)] || strings.HasPrefix(pattern, "dev/ttyS") && (kind == "" || kind == "0") {
				continue // named already, or a port that only the kernel's table has
			}
			out = append(out, Port{Path: e.shown(path)})
		}
	}
	return out
}
