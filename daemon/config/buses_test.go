package config

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
)

func TestSensorsOfOneBusSayThatTheyShareIt(t *testing.T) {
	d := decoder{cfg: &Config{}}
	d.cfg.Sensors = Sensors{
		ADC: []ADCInput{
			{Bus: 1, Channel: frame.InletPressure, Pulsation: frame.InletPulsation},
			{Bus: 3, Channel: frame.OutletPressure, Pulsation: frame.NumChannels},
			{Bus: 1, Channel: frame.MotorCurrent, Pulsation: frame.NumChannels},
		},
		Thermometers: []Thermometer{{Channel: frame.WaterTemp}, {Channel: frame.AmbientTemp}},
		Pulses:       []PulseInput{{GPIO: GPIO{Chip: "gpiochip0"}, Channel: frame.Flow}},
		Switches:     []SwitchInput{{GPIO: GPIO{Chip: "gpiochip0"}, Channel: frame.Trigger}},
		Modbus:       []ModbusPoint{{Port: "/dev/ttyUSB0", Channel: frame.SupplyVoltage}},
	}
	d.deriveBuses()
	bus := func(ch frame.Channel) uint8 { return d.cfg.Engine.Signals[ch].Bus }
	require.Equal(t, bus(frame.InletPressure), bus(frame.InletPulsation))
	require.Equal(t, bus(frame.InletPressure), bus(frame.MotorCurrent))
	require.Equal(t, bus(frame.WaterTemp), bus(frame.AmbientTemp))
	require.Equal(t, bus(frame.Flow), bus(frame.Trigger))
	seen := map[uint8]bool{}
	for _, ch := range []frame.Channel{frame.InletPressure, frame.OutletPressure, frame.WaterTemp, frame.Flow, frame.SupplyVoltage} {
		require.Positive(t, bus(ch))
		require.False(t, seen[bus(ch)], ch)
		seen[bus(ch)] = true
	}
	require.Zero(t, bus(frame.ShaftSpeed), "no sensor feeds it")
}
