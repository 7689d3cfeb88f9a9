package hardware

import (
	"errors"
	"fmt"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/host/v3/sysfs"

	"headroom/daemon/config"
	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/gpiochip"
	"headroom/sensors/modbus"
)

// Env is where the devices are. The zero value is the running kernel's; tests
// put fakes in place.
type Env struct {
	// Lines hands out GPIO lines; nil is the kernel.
	Lines gpiochip.Requester
	// OpenI2C opens a bus by its number; nil is the kernel.
	OpenI2C func(number int) (i2c.BusCloser, error)
	// OpenSerial opens a serial line; nil is the kernel.
	OpenSerial func(modbus.Serial) (modbus.Port, error)
	// W1Root is the folder of the 1-wire sensors; empty is the kernel's.
	W1Root string
}

// OpenI2C opens a bus of the running kernel.
func OpenI2C(number int) (i2c.BusCloser, error) { return sysfs.NewI2C(number) }

func (e Env) withDefaults() Env {
	if e.Lines == nil {
		e.Lines = gpiochip.Linux{}
	}
	if e.OpenI2C == nil {
		e.OpenI2C = OpenI2C
	}
	if e.OpenSerial == nil {
		e.OpenSerial = modbus.Serial.Open
	}
	return e
}

// Set is what a config's sensors became.
type Set struct {
	// Drivers feed the channels; no device was touched yet.
	Drivers []sensors.Driver

	raw [frame.NumChannels]func() string
}

// Raw returns the electrical signal behind a channel's last reading, in words,
// for the day of wiring; empty where the part shows none. Safe while the
// drivers run.
func (s *Set) Raw(c frame.Channel) string {
	if c >= frame.NumChannels || s.raw[c] == nil {
		return ""
	}
	return s.raw[c]()
}

// Drivers returns the drivers of a config's sensors, on the running kernel; none
// for a config without sensors. cal holds the calibrations, nil for none. The
// error names every part that can't be built, with its lines in the config.
func Drivers(cfg *config.Config, cal *Calibrations) ([]sensors.Driver, error) {
	s, err := Env{}.Build(cfg, cal)
	if err != nil {
		return nil, err
	}
	return s.Drivers, nil
}

// Check finds what Build would refuse, for a config that is to be checked on
// any machine.
func Check(cfg *config.Config) error {
	_, err := Env{}.Build(cfg, nil)
	_, outErr := Env{}.Outputs(cfg, nil)
	return errors.Join(err, outErr)
}

// Build makes the drivers of a config's sensors in this environment.
func (e Env) Build(cfg *config.Config, cal *Calibrations) (*Set, error) {
	e = e.withDefaults()
	s := &Set{}
	var all []error
	for _, build := range []func(*config.Config, *Set) error{e.addConverters, e.addThermometers, e.addPulses, e.addModbus, e.addSwitches} {
		all = append(all, build(cfg, s))
	}
	if err := errors.Join(all...); err != nil {
		return nil, err
	}
	if cal != nil {
		for i, d := range s.Drivers {
			s.Drivers[i] = cal.Wrap(d)
		}
	}
	return s, nil
}

// on says where in the config a part stands.
func on(err error, section string, lines ...int) error {
	if err == nil {
		return nil
	}
	word, list := "line", fmt.Sprint(lines[0])
	for _, l := range lines[1:] {
		word, list = "lines", list+fmt.Sprintf(", %d", l)
	}
	return fmt.Errorf("[[%s]] on %s %s: %w", section, word, list, err)
}
