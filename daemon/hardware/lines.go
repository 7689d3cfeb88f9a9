package hardware

import (
	"errors"
	"slices"

	"headroom/daemon/config"
	"headroom/sensors/gpiochip"
	"headroom/sensors/modbus"
	"headroom/sensors/pulse"
	"headroom/sensors/switches"
	"headroom/sensors/thermo1w"
)

// addThermometers makes one driver for all: the kernel has one 1-wire folder.
func (e Env) addThermometers(cfg *config.Config, s *Set) error {
	if len(cfg.Sensors.Thermometers) == 0 {
		return nil
	}
	opt := thermo1w.Options{
		Period: cfg.Sensors.ThermometerPeriod,
		Open:   func() (thermo1w.Source, error) { return thermo1w.Files{Root: e.W1Root}, nil },
	}
	var lines []int
	for _, t := range cfg.Sensors.Thermometers {
		lines = append(lines, t.Line)
		opt.Sensors = append(opt.Sensors, thermo1w.Sensor{Serial: thermo1w.Serial(t.Serial), Channel: t.Channel})
	}
	d, err := thermo1w.New(opt)
	if err != nil {
		return on(err, "sensors.thermometer", lines...)
	}
	s.Drivers = append(s.Drivers, d)
	return nil
}

func line(g config.GPIO) gpiochip.Line {
	return gpiochip.Line{Name: g.Line, Offset: uint32(g.Offset)}
}

func bias(g config.GPIO) gpiochip.Bias {
	switch g.Bias {
	case "off":
		return gpiochip.BiasOff
	case "pull_up":
		return gpiochip.PullUp
	case "pull_down":
		return gpiochip.PullDown
	}
	return gpiochip.BiasAsIs
}

// addPulses makes a driver for each meter, so that they fail one by one.
func (e Env) addPulses(cfg *config.Config, s *Set) error {
	var all []error
	for _, p := range cfg.Sensors.Pulses {
		opt := pulse.Options{
			Lines: e.Lines, Chip: p.GPIO.Chip, Line: line(p.GPIO), Falling: p.Falling, Bias: bias(p.GPIO), Debounce: p.Debounce,
			Channel: p.Channel, PulsesPerRev: p.PulsesPerRev, MaxHz: p.MaxHz, Window: p.Window, ZeroAfter: p.ZeroAfter, Period: p.Period,
		}
		for _, k := range p.K {
			opt.K = append(opt.K, pulse.KPoint{Hz: k.Hz, PulsesPerM3: k.PulsesPerM3})
		}
		d, err := pulse.New(opt)
		if err != nil {
			all = append(all, on(err, "sensors.pulse", p.Line))
			continue
		}
		s.Drivers = append(s.Drivers, d)
		s.raw[p.Channel] = (&pulseWords{d: d}).words
	}
	return errors.Join(all...)
}

// addModbus makes a driver for each serial line.
func (e Env) addModbus(cfg *config.Config, s *Set) error {
	var ports []string
	for _, m := range cfg.Sensors.Modbus {
		if !slices.Contains(ports, m.Port) {
			ports = append(ports, m.Port)
		}
	}
	var all []error
	for _, port := range ports {
		var lines []int
		opt := modbus.Options{Name: port}
		for _, m := range cfg.Sensors.Modbus {
			if m.Port != port {
				continue
			}
			lines = append(lines, m.Line)
			opt.Baud = int(m.Baud)
			parity, _ := modbus.ParityByName(m.Framing) // a choice of the schema
			opt.Open = func() (modbus.Port, error) {
				return e.OpenSerial(modbus.Serial{Path: port, Baud: opt.Baud, Parity: parity})
			}
			opt.Points = append(opt.Points, point(m))
		}
		d, err := modbus.New(opt)
		if err != nil {
			all = append(all, on(err, "sensors.modbus", lines...))
			continue
		}
		s.Drivers = append(s.Drivers, d)
	}
	return errors.Join(all...)
}

func point(m config.ModbusPoint) modbus.Point {
	p := modbus.Point{
		Unit: byte(m.Station), Table: modbus.Input, Register: uint16(m.Register), Scale: m.Scale, Offset: m.Offset,
		Symbol: m.Unit, NotAvailable: m.NotAvailable, Channel: m.Channel,
	}
	if m.Table == "holding" {
		p.Table = modbus.Holding
	}
	p.Type, _ = modbus.TypeByName(m.Type) // a choice of the schema
	if m.LowFirst {
		p.Order = modbus.LowFirst
	}
	return p
}

// addSwitches makes a driver for each switch, so that they fail one by one.
func (e Env) addSwitches(cfg *config.Config, s *Set) error {
	var all []error
	for _, w := range cfg.Sensors.Switches {
		d, err := switches.New(switches.Options{Lines: e.Lines, Switches: []switches.Switch{{
			Chip: w.GPIO.Chip, Line: line(w.GPIO), Channel: w.Channel, ActiveLow: w.GPIO.ActiveLow, Bias: bias(w.GPIO), Debounce: w.Debounce,
		}}})
		if err != nil {
			all = append(all, on(err, "sensors.switch", w.Line))
			continue
		}
		s.Drivers = append(s.Drivers, d)
	}
	return errors.Join(all...)
}
