//go:build rig && linux

package main

import (
	"time"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/adc"
	"headroom/sensors/convert"
	"headroom/sensors/gpiochip"
	"headroom/sensors/modbus"
	"headroom/sensors/pulse"
	"headroom/sensors/switches"
	"headroom/sensors/thermo1w"
)

// kindsOfDriver makes each driver as the rig's board is wired, and says after
// how long its readings are stale.
var kindsOfDriver = map[string]struct {
	make  func() (sensors.Driver, error)
	stale time.Duration
}{
	"adc":    {converter, 2 * time.Second},
	"block":  {blocks, 10 * time.Second},
	"flow":   {flow, 2 * time.Second},
	"thermo": {thermometers, 15 * time.Second},
	"switch": {contacts, 2 * time.Second},
	"modbus": {func() (sensors.Driver, error) { return energyMeter("/dev/ttyS1") }, 3 * time.Second},
	"dongle": {func() (sensors.Driver, error) { return energyMeter("/dev/ttyUSB0") }, 3 * time.Second},
}

// converter: a 4-20 mA loop over 100 ohm for -100 to 900 kPa, and a 1-3 V
// transmitter for 0 to 20 MPa. A transfer over the modelled adapter costs
// milliseconds, so no input is sampled in blocks here.
func converter() (sensors.Driver, error) {
	return adc.New(adc.Options{
		Bus:      &reopening{number: 0},
		Period:   200 * time.Millisecond,
		Overhead: 3 * time.Millisecond,
		Chips: []adc.Chip{{
			Addr: 0x48,
			Inputs: []adc.Input{
				{
					Name: "inlet", Mux: adc.AIN0, Range: adc.FS4V096, Rate: adc.SPS250, Channel: frame.InletPressure,
					Convert: convert.Loop{ShuntOhm: 100, Span: convert.Span{Low: -100e3, High: 900e3}},
				},
				{
					Name: "outlet", Mux: adc.AIN1, Range: adc.FS4V096, Rate: adc.SPS250, Channel: frame.OutletPressure,
					Convert: convert.Voltage{LowV: 1, HighV: 3, Span: convert.Span{Low: 0, High: 20e6}},
				},
			},
		}},
	})
}

// blocks: the inlet's mean and its pulsation, 1-3 V for 0 to 800 kPa. A motor's
// current needs the part's 860 samples a second, which the modelled adapter
// can't carry; 64 it can.
func blocks() (sensors.Driver, error) {
	return adc.New(adc.Options{
		Bus: &reopening{number: 0}, Period: 2 * time.Second, Overhead: 3 * time.Millisecond,
		Chips: []adc.Chip{{
			Addr: 0x48,
			Inputs: []adc.Input{{
				Name: "inlet", Mux: adc.AIN2, Range: adc.FS4V096, Rate: adc.SPS64, Channel: frame.InletPressure,
				Convert: convert.Voltage{LowV: 1, HighV: 3, Span: convert.Span{Low: 0, High: 800e3}},
				Block:   &adc.Block{Length: 2 * time.Second, Pulsation: frame.InletPulsation},
			}},
		}},
	})
}

// flow: 1000 pulses a litre.
func flow() (sensors.Driver, error) {
	return pulse.New(pulse.Options{
		Lines: gpiochip.Linux{}, Line: gpiochip.Line{Name: "FLOW"},
		Channel: frame.Flow, K: pulse.KTable{{PulsesPerM3: 1e6}}, MaxHz: 2000, ZeroAfter: time.Second,
	})
}

func thermometers() (sensors.Driver, error) {
	return thermo1w.New(thermo1w.Options{
		Period: time.Second,
		Sensors: []thermo1w.Sensor{
			{Serial: "28-000000123456", Channel: frame.WaterTemp},
			{Serial: "28-0000abcdef01", Channel: frame.AmbientTemp},
		},
	})
}

// energyMeter: voltage as a float in input register 0, current in tenths of an
// ampere in holding register 16.
func energyMeter(path string) (sensors.Driver, error) {
	line := modbus.Serial{Path: path, Baud: 9600, Parity: modbus.EvenParity}
	return modbus.New(modbus.Options{
		Name: path, Open: line.Open, Baud: 9600, Period: 200 * time.Millisecond,
		Points: []modbus.Point{
			{Unit: 1, Table: modbus.Input, Register: 0, Type: modbus.F32, Symbol: "V", Channel: frame.SupplyVoltage},
			{Unit: 1, Table: modbus.Holding, Register: 16, Type: modbus.U16, Scale: 0.1, Symbol: "A", Channel: frame.MotorCurrent},
		},
	})
}

// contacts close to ground.
func contacts() (sensors.Driver, error) {
	contact := func(line string, c frame.Channel) switches.Switch {
		return switches.Switch{Line: gpiochip.Line{Name: line}, Channel: c, ActiveLow: true, Bias: gpiochip.PullUp}
	}
	return switches.New(switches.Options{
		Lines:    gpiochip.Linux{},
		Switches: []switches.Switch{contact("RUNNING", frame.Running), contact("TRIGGER", frame.Trigger)},
	})
}
