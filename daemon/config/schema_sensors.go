package config

import (
	"strings"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// The words that several keys and checks share.
var (
	adcKinds  = []string{KindRatiometric, KindLoop, KindVoltage, KindNTC, KindPt100, KindPt1000, KindTransformer, KindSupply}
	addresses = []string{"0x48", "0x49", "0x4a", "0x4b"}
	adcPins   = []string{"AIN0", "AIN1", "AIN2", "AIN3", "AIN0-AIN1", "AIN2-AIN3"}
	adcRanges = []string{"0.256 V", "0.512 V", "1.024 V", "2.048 V", "4.096 V", "6.144 V"}
	biases    = []string{"as_is", "off", "pull_up", "pull_down"}
)

func sensorSchema() []Section {
	return []Section{
		{Name: "sensors", Doc: sensorsDoc, Keys: sensorCommonKeys()},
		{Name: "sensors.adc", Array: true, Max: 32, Doc: adcDoc, Keys: adcKeys(),
			grow: func(c *Config, line int) { c.Sensors.ADC = append(c.Sensors.ADC, newADC(line)) }},
		{Name: "sensors.thermometer", Array: true, Max: 16, Doc: "One digital thermometer on the 1-wire bus.", Keys: thermometerKeys(),
			grow: func(c *Config, line int) {
				c.Sensors.Thermometers = append(c.Sensors.Thermometers, Thermometer{Line: line})
			}},
		{Name: "sensors.pulse", Array: true, Max: 4, Doc: "A flow meter or speed pick-up that gives pulses.", Keys: pulseKeys(),
			grow: func(c *Config, line int) { c.Sensors.Pulses = append(c.Sensors.Pulses, newPulse(line)) }},
		{Name: "sensors.modbus", Array: true, Max: 32, Doc: "One value of a meter or transmitter on a serial line (Modbus RTU). Nothing is ever written to a meter.", Keys: modbusKeys(),
			grow: func(c *Config, line int) { c.Sensors.Modbus = append(c.Sensors.Modbus, newModbus(line)) }},
		{Name: "sensors.switch", Array: true, Max: 8, Doc: "One on/off input.", Keys: switchKeys(),
			grow: func(c *Config, line int) { c.Sensors.Switches = append(c.Sensors.Switches, SwitchInput{Line: line}) }},
	}
}

const sensorsDoc = `The sensors of a real machine, and what they have in common. With any of the sections below, write on = false under [simulator]; a channel that a sensor feeds then counts as fitted, and no other, unless this file says so. "headroom scan" proposes sections, "headroom live" shows what they read.`

const adcDoc = `One input of a 16-bit converter on the I2C bus: what is wired to it, and the channel it feeds. Which further keys it takes depends on kind; at_low and at_high are the values at the ends of the transducer's signal.`

func newADC(line int) ADCInput {
	return ADCInput{Line: line, Channel: frame.NumChannels, Pulsation: frame.NumChannels}
}

func newPulse(line int) PulseInput { return PulseInput{Line: line, Channel: frame.NumChannels} }

func newModbus(line int) ModbusPoint {
	return ModbusPoint{Line: line, Baud: 9600, Framing: "8N1", Table: "input", Type: "u16", Scale: 1, Channel: frame.NumChannels}
}

func sensorCommonKeys() []Key {
	return []Key{
		{Name: "scan", Kind: Measure, Quantity: units.Duration, Min: 0.01, Max: 10, Default: `"100 ms"`, Why: "one scan a frame",
			Doc: "Time of one scan over all inputs of the converters on a bus.", field: func(c *Config, _ int) any { return &c.Sensors.Scan }},
		{Name: "i2c_clock", Kind: Choice, Choices: []string{"10 kHz", "50 kHz", "100 kHz", "400 kHz", "1000 kHz"}, Default: `"100 kHz"`, Why: "what boards start with",
			Doc: "Clock that the I2C bus really runs at. It is set in the board's own configuration, not here.", field: func(c *Config, _ int) any { return leadingNumber(&c.Sensors.I2CHz, 1e3) }},
		{Name: "mains", Kind: Choice, Choices: []string{"50 Hz", "60 Hz"}, Default: `"60 Hz"`,
			Doc: "Frequency of the circuit, for the true RMS of a current.", field: func(c *Config, _ int) any { return leadingNumber(&c.Sensors.MainsHz, 1) }},
		{Name: "thermometer_period", Kind: Measure, Quantity: units.Duration, Min: 0.1, Max: 60, Default: `"2 s"`, Why: "a reading takes up to a second per thermometer",
			Doc: "Time of one round over all thermometers.", field: func(c *Config, _ int) any { return &c.Sensors.ThermometerPeriod }},
		{Name: "calibrations", Kind: Text, Default: `""`,
			Doc: "Folder of the calibrations; empty for calibrations/ in the record's folder.", field: func(c *Config, _ int) any { return &c.Sensors.Calibrations }},
	}
}

// channelsOf are the names of the channels of a quantity; units.None for all
// that aren't digital.
func channelsOf(q units.Quantity) []string {
	var out []string
	for c := range frame.NumChannels {
		if !c.Digital() && (q == units.None || c.Quantity() == q) {
			out = append(out, c.String())
		}
	}
	return out
}

func digitalChannels() []string {
	var out []string
	for c := range frame.NumChannels {
		if c.Digital() {
			out = append(out, c.String())
		}
	}
	return out
}

func thermometerKeys() []Key {
	return []Key{
		{Name: "serial", Kind: Text, Required: true, Example: `"28-000000123456"`,
			Doc: "Serial number as the kernel writes it; \"headroom scan\" lists them. Warm one in the hand to tell which is which.", field: func(c *Config, i int) any { return &c.Sensors.Thermometers[i].Serial }},
		{Name: "channel", Kind: Choice, Choices: channelsOf(units.Temperature), Required: true, Example: `"water_temp"`,
			Doc: "Channel it feeds.", field: func(c *Config, i int) any { return &c.Sensors.Thermometers[i].channel }},
	}
}

func pulseKeys() []Key {
	p := func(c *Config, i int) *PulseInput { return &c.Sensors.Pulses[i] }
	keys := gpioKeys(`"GPIO17"`, func(c *Config, i int) *GPIO { return &p(c, i).GPIO })
	return append(keys,
		biasKey(func(c *Config, i int) *GPIO { return &p(c, i).GPIO }),
		Key{Name: "edge", Kind: Choice, Choices: []string{"rising", "falling"}, Example: `"falling"`,
			Doc: "Edge that counts: take the one the part drives hard, with an open collector the falling one. Without it rising.", field: func(c *Config, i int) any { return func(s string) { p(c, i).Falling = s == "falling" } }},
		Key{Name: "debounce", Kind: Measure, Quantity: units.Duration, Max: 1, Example: `"1 ms"`,
			Doc: "Shorter changes are dropped; at most a third of the shortest period.", field: func(c *Config, i int) any { return &p(c, i).Debounce }},
		Key{Name: "channel", Kind: Choice, Choices: []string{frame.Flow.String(), frame.ShaftSpeed.String()}, Required: true, Example: `"flow"`,
			Doc: "Channel it feeds.", field: func(c *Config, i int) any { return &p(c, i).channel }},
		Key{Name: "k_factor", Kind: Texts, Example: `["430/L at 5 Hz", "450/L at 60 Hz"]`,
			Doc: "For flow: pulses per L, gal or m3 from the meter's own sheet, one for all rates (\"450/L\") or a list by rising pulse rate.", field: func(c *Config, i int) any { return &p(c, i).k }},
		Key{Name: "pulses_per_rev", Kind: Number, Max: 10_000, Above: true, Example: `2.0`,
			Doc: "For shaft_speed: pulses in one revolution of the pump.", field: func(c *Config, i int) any { return &p(c, i).PulsesPerRev }},
		Key{Name: "max_frequency", Kind: Measure, Quantity: units.Speed, Min: 0.1, Max: 20_000, Required: true, Example: `"200 Hz"`,
			Doc: "Highest pulse rate the part can give; what comes quicker is interference.", field: func(c *Config, i int) any { return &p(c, i).MaxHz }},
		Key{Name: "window", Kind: Measure, Quantity: units.Duration, Min: 0.05, Max: 10, Example: `"500 ms"`,
			Doc: "Time over which the rate is a mean.", field: func(c *Config, i int) any { return &p(c, i).Window }},
		Key{Name: "zero_after", Kind: Measure, Quantity: units.Duration, Min: 0.1, Max: 60, Example: `"3 s"`,
			Doc: "Silence after which the rate is 0.", field: func(c *Config, i int) any { return &p(c, i).ZeroAfter }},
		Key{Name: "period", Kind: Measure, Quantity: units.Duration, Min: 0.01, Max: 5, Example: `"200 ms"`,
			Doc: "Time between two readings.", field: func(c *Config, i int) any { return &p(c, i).Period }},
	)
}

func switchKeys() []Key {
	g := func(c *Config, i int) *GPIO { return &c.Sensors.Switches[i].GPIO }
	return append(gpioKeys(`"GPIO27"`, g), biasKey(g), activeLowKey("", g),
		Key{Name: "debounce", Kind: Measure, Quantity: units.Duration, Max: 1, Example: `"20 ms"`,
			Doc: "Shorter changes are dropped.", field: func(c *Config, i int) any { return &c.Sensors.Switches[i].Debounce }},
		Key{Name: "channel", Kind: Choice, Choices: digitalChannels(), Required: true, Example: `"running"`,
			Doc: "Channel it feeds.", field: func(c *Config, i int) any { return &c.Sensors.Switches[i].channel }})
}

// gpioKeys name one line of a GPIO chip.
func gpioKeys(example string, g func(c *Config, i int) *GPIO) []Key {
	return []Key{
		{Name: "line", Kind: Text, Example: example,
			Doc: "Name of the GPIO line, as \"headroom scan\" lists it.", field: func(c *Config, i int) any { return &g(c, i).Line }},
		{Name: "chip", Kind: Text, Example: `"/dev/gpiochip0"`,
			Doc: "GPIO chip: needed with offset, or where two chips have a line of that name.", field: func(c *Config, i int) any { return &g(c, i).Chip }},
		{Name: "offset", Kind: Count, Max: 1023, Example: `17`,
			Doc: "Number of the line on its chip, where it has no name.", field: func(c *Config, i int) any { return &g(c, i).Offset }},
	}
}

func biasKey(g func(c *Config, i int) *GPIO) Key {
	return Key{Name: "bias", Kind: Choice, Choices: biases, Example: `"pull_up"`,
		Doc: "Resistor inside the chip: pull_up for a contact or open collector to ground. Without it as_is.", field: func(c *Config, i int) any { return &g(c, i).Bias }}
}

// activeLowKey has a default outside of arrays only.
func activeLowKey(def string, g func(c *Config, i int) *GPIO) Key {
	return Key{Name: "active_low", Kind: Flag, Default: def, Example: `true`,
		Doc: "A low line means on.", field: func(c *Config, i int) any { return &g(c, i).ActiveLow }}
}

// leadingNumber stores the number that a choice begins with, times scale.
func leadingNumber(to *float64, scale float64) func(string) {
	return func(s string) {
		number, _, _ := strings.Cut(s, " ")
		*to = parseNumber(number) * scale
	}
}
