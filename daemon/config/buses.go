package config

import (
	"fmt"

	"headroom/rules/frame"
)

// deriveBuses tells the engine which sensors hang on one bus, port or chip:
// when it dies they all go, and that is one fault. Sensors on different ones
// that go at the same moment are as many faults.
func (d *decoder) deriveBuses() {
	s, all := &d.cfg.Sensors, &buses{}
	if d.cfg.Simulator.On {
		// The invented machine has one converter for all that is analogue.
		for ch := range frame.NumChannels {
			if !ch.Digital() {
				d.onBus(ch, all.number("simulator"))
			}
		}
		return
	}
	for i := range s.ADC {
		n := all.number(fmt.Sprintf("i2c-%d", s.ADC[i].Bus))
		d.onBus(s.ADC[i].Channel, n)
		d.onBus(s.ADC[i].Pulsation, n)
	}
	for i := range s.Thermometers {
		d.onBus(s.Thermometers[i].Channel, all.number("1-wire"))
	}
	for i := range s.Modbus {
		d.onBus(s.Modbus[i].Channel, all.number("port "+s.Modbus[i].Port))
	}
	for i := range s.Pulses {
		d.onBus(s.Pulses[i].Channel, all.number("chip "+s.Pulses[i].GPIO.Chip))
	}
	for i := range s.Switches {
		d.onBus(s.Switches[i].Channel, all.number("chip "+s.Switches[i].GPIO.Chip))
	}
}

// onBus notes a channel's bus; a sensor without a channel has none.
func (d *decoder) onBus(ch frame.Channel, n uint8) {
	if ch < frame.NumChannels {
		d.cfg.Engine.Signals[ch].Bus = n
	}
}

// buses numbers buses from 1 in the order in which they come.
type buses struct{ names []string }

func (b *buses) number(name string) uint8 {
	for i, have := range b.names {
		if have == name {
			return uint8(i + 1)
		}
	}
	b.names = append(b.names, name)
	return uint8(len(b.names))
}
