package config

import (
	"time"

	"headroom/rules/frame"
)

// Sensors are the parts that feed the channels on a real machine; with none of
// them the simulator does. Each part keeps the line of the file it stands on,
// so that whoever builds it can say where to mend.
type Sensors struct {
	// Scan is the time of one scan over all inputs of the converters on a bus.
	Scan time.Duration
	// I2CHz is the clock that the I2C buses really run at.
	I2CHz float64
	// MainsHz is 50 or 60.
	MainsHz float64
	// ThermometerPeriod is the time of one round over all thermometers.
	ThermometerPeriod time.Duration
	// Calibrations is the folder of the calibrations; empty for the one beside
	// the record.
	Calibrations string

	ADC          []ADCInput
	Thermometers []Thermometer
	Pulses       []PulseInput
	Modbus       []ModbusPoint
	Switches     []SwitchInput
}

// Any reports whether any sensor is configured.
func (s *Sensors) Any() bool {
	return len(s.ADC)+len(s.Thermometers)+len(s.Pulses)+len(s.Modbus)+len(s.Switches) > 0
}

// The kinds of an ADCInput.
const (
	KindRatiometric = "ratiometric"
	KindLoop        = "loop_4_20"
	KindVoltage     = "voltage"
	KindNTC         = "ntc"
	KindPt100       = "pt100"
	KindPt1000      = "pt1000"
	KindTransformer = "current_transformer"
	KindSupply      = "supply"
)

// ADCInput is one input of a converter, what is wired to it, and the channel
// it feeds. A figure of 0 takes the default that its key names.
type ADCInput struct {
	// Line of the file.
	Line int
	// Name of the input, the channel's where the file gives none.
	Name string
	// Bus is the number of the I2C bus, Address the converter's.
	Bus     int
	Address uint16
	// Input, Range and Rate are the converter's settings; Range in V, 0 for
	// the narrowest that shows every fault, Rate in 1/s, 0 for the default.
	Input  string
	RangeV float64
	Rate   int64
	// Attenuation of a divider ahead of the pin, 0 for none.
	Attenuation float64
	// ConverterSupplyV feeds the converter.
	ConverterSupplyV float64
	// Continuous converts all the time.
	Continuous bool
	// Kind is one of the kinds above.
	Kind string
	// Channel it feeds; NumChannels for a supply that is a reference only.
	Channel frame.Channel
	// Reference names the input that measures this one's supply.
	Reference string
	// AtLow and AtHigh are the values at the ends of the signal, SI.
	AtLow, AtHigh float64
	// LowRatio and HighRatio are the ends of a ratiometric signal.
	LowRatio, HighRatio float64
	// LowV and HighV are the ends of a voltage; OpenHigh says that an open
	// wire lifts it above.
	LowV, HighV float64
	OpenHigh    bool
	// ShuntOhm of a loop.
	ShuntOhm float64
	// SupplyMinV and SupplyMaxV bound a supply.
	SupplyMinV, SupplyMaxV float64
	// Pulsation is the channel of the fast part, NumChannels for none, taken
	// from blocks of the length Block.
	Pulsation frame.Channel
	Block     time.Duration
	// Resistive is the circuit and law of a thermistor or platinum resistor.
	Resistive Resistive
	// Transformer of a current.
	Transformer Transformer

	bus, address, channel, pulsation, atLow, atHigh string
}

// Resistive is a resistive thermometer and its circuit.
type Resistive struct {
	// Feed is "pull_up", "pull_down" or "current_source".
	Feed string
	// FixedOhm is the divider's resistor, FeedV its supply (0: measured, see
	// Reference), FeedA the current source, LeadsOhm both leads together.
	FixedOhm, FeedV, FeedA, LeadsOhm float64
	// R25Ohm and BetaK, or the coefficients A, B, C, of a thermistor.
	R25Ohm, BetaK float64
	A, B, C       float64
	// MinK and MaxK bound what is believed, both 0 for the default; ShortOhm
	// and OpenOhm are where wiring faults begin, both 0 for the default.
	MinK, MaxK, ShortOhm, OpenOhm float64
}

// Transformer is a current transformer.
type Transformer struct {
	// Ratio of primary by secondary current over BurdenOhm, or APerV for a
	// transformer with its burden inside.
	Ratio, BurdenOhm, APerV float64
	// Turns of the conductor, 0 for 1.
	Turns int64
	// BiasV is the mid-point, BiasTolV how far it may be off (0: default).
	BiasV, BiasTolV float64
	// MaxA is the largest RMS current for which all of it is linear.
	MaxA float64
	// Cycles of the mains in one block, 0 for the default.
	Cycles int64
}

// Thermometer is one 1-wire thermometer.
type Thermometer struct {
	Line    int
	Serial  string
	Channel frame.Channel

	channel string
}

// GPIO is one line of a chip: by Line where it has a name, else by Offset.
type GPIO struct {
	// Chip is the device; empty searches all for the name.
	Chip string
	// Line is the name, Offset counts without one.
	Line   string
	Offset int64
	// ActiveLow makes a low line mean on.
	ActiveLow bool
	// Bias is "as_is", "off", "pull_up" or "pull_down".
	Bias string
}

// KPoint is a flow meter's K-factor at a pulse rate.
type KPoint struct{ Hz, PulsesPerM3 float64 }

// PulseInput is a flow meter or a speed pick-up.
type PulseInput struct {
	Line int
	GPIO GPIO
	// Falling counts falling edges.
	Falling bool
	// Debounce in the kernel.
	Debounce time.Duration
	// Channel is flow or shaft_speed.
	Channel frame.Channel
	// K is a flow meter's table, PulsesPerRev a shaft's.
	K            []KPoint
	PulsesPerRev float64
	// MaxHz is the highest pulse rate of the part.
	MaxHz float64
	// Window, ZeroAfter and Period; 0 for the driver's own.
	Window, ZeroAfter, Period time.Duration

	channel string
	k       []string
}

// ModbusPoint is one value of a unit on a serial line.
type ModbusPoint struct {
	Line int
	// Port is the serial line, Baud its rate, Framing for example "8N1".
	Port    string
	Baud    int64
	Framing string
	// Station is the unit's number on the line.
	Station int64
	// Table is "input" or "holding", Register counts from 0.
	Table    string
	Register int64
	// Type is for example "u16"; LowFirst turns the words round.
	Type     string
	LowFirst bool
	// Scale and Offset give the value in Unit.
	Scale, Offset float64
	Unit          string
	// NotAvailable are the bits that stand for no value.
	NotAvailable []uint32
	// Channel it feeds.
	Channel frame.Channel

	channel      string
	notAvailable []string
}

// SwitchInput is one on/off input.
type SwitchInput struct {
	Line int
	GPIO GPIO
	// Debounce, 0 for the driver's own.
	Debounce time.Duration
	Channel  frame.Channel

	channel string
}
