package config

import (
	"strconv"

	"headroom/rules/units"
)

// parseNumber reads a number that a schema's own choice begins with.
func parseNumber(s string) float64 {
	v, _ := strconv.ParseFloat(s, 64)
	return v
}

func adcKeys() []Key {
	keys := adcPlaceKeys()
	keys = append(keys, adcSignalKeys()...)
	keys = append(keys, adcBlockKeys()...)
	keys = append(keys, adcResistiveKeys()...)
	return append(keys, adcTransformerKeys()...)
}

// adc gives a key's field from the element.
func adc(get func(a *ADCInput) any) func(c *Config, i int) any {
	return func(c *Config, i int) any { return get(&c.Sensors.ADC[i]) }
}

func adcPlaceKeys() []Key {
	return []Key{
		{Name: "name", Kind: Text, Example: `"inlet"`,
			Doc: "Name of the input, for messages and for reference. Without it the channel's.", field: adc(func(a *ADCInput) any { return &a.Name })},
		{Name: "bus", Kind: Text, Required: true, Example: `"i2c-1"`,
			Doc: "I2C bus.", field: adc(func(a *ADCInput) any { return &a.bus })},
		{Name: "address", Kind: Choice, Choices: addresses, Required: true, Example: `"0x48"`,
			Doc: "Address of the converter, by its pin ADDR.", field: adc(func(a *ADCInput) any { return &a.address })},
		{Name: "input", Kind: Choice, Choices: adcPins, Required: true, Example: `"AIN0"`,
			Doc: "Pin, or pair of pins for a difference.", field: adc(func(a *ADCInput) any { return &a.Input })},
		{Name: "kind", Kind: Choice, Choices: adcKinds, Required: true, Example: `"ratiometric"`,
			Doc: "What is wired to it.", field: adc(func(a *ADCInput) any { return &a.Kind })},
		{Name: "channel", Kind: Choice, Choices: channelsOf(units.None), Example: `"inlet_pressure"`,
			Doc: "Channel it feeds; a supply needs none.", field: adc(func(a *ADCInput) any { return &a.channel })},
		{Name: "range", Kind: Choice, Choices: adcRanges, Example: `"6.144 V"`,
			Doc: "Full scale of the converter. Without it the narrowest that shows every fault.", field: adc(func(a *ADCInput) any { return leadingNumber(&a.RangeV, 1) })},
		{Name: "rate", Kind: Count, Min: 8, Max: 860, Allowed: []int64{8, 16, 32, 64, 128, 250, 475, 860}, Example: `128`,
			Doc: "Conversions a second. Without it 128, and 860 for what is sampled in blocks.", field: adc(func(a *ADCInput) any { return &a.Rate })},
		{Name: "mode", Kind: Choice, Choices: []string{"single", "continuous"}, Example: `"single"`,
			Doc: "continuous: the converter has this one input only. Without it single.", field: adc(func(a *ADCInput) any { return func(s string) { a.Continuous = s == "continuous" } })},
		{Name: "attenuation", Kind: Number, Min: 1, Max: 100, Example: `3.0`,
			Doc: "Voltage at the terminals by that at the pin, for a divider ahead of the pin. Without it 1.", field: adc(func(a *ADCInput) any { return &a.Attenuation })},
		{Name: "converter_supply", Kind: Measure, Quantity: units.Voltage, Min: 2, Max: 5.5, Example: `"5 V"`,
			Doc: "Supply of the converter itself, above which no pin may go; the same for all inputs of one. Without it 3.3 V.", field: adc(func(a *ADCInput) any { return &a.ConverterSupplyV })},
	}
}

func adcSignalKeys() []Key {
	return []Key{
		{Name: "at_low", Kind: Text, Example: `"0 psi"`,
			Doc: "ratiometric, loop_4_20, voltage: value at the low end of the signal.", field: adc(func(a *ADCInput) any { return &a.atLow })},
		{Name: "at_high", Kind: Text, Example: `"200 psi"`,
			Doc: "Value at the high end.", field: adc(func(a *ADCInput) any { return &a.atHigh })},
		{Name: "reference", Kind: Text, Example: `"5 V supply"`,
			Doc: "ratiometric, ntc, pt100, pt1000: name of the input on the same bus, of kind supply, that measures the transducer's supply.", field: adc(func(a *ADCInput) any { return &a.Reference })},
		{Name: "low_ratio", Kind: Measure, Quantity: units.Fraction, Min: 0.04, Max: 0.9, Example: `"10 %"`,
			Doc: "ratiometric: share of the supply at the low end. Without both 10 % and 90 %.", field: adc(func(a *ADCInput) any { return &a.LowRatio })},
		{Name: "high_ratio", Kind: Measure, Quantity: units.Fraction, Min: 0.1, Max: 0.97, Example: `"90 %"`,
			Doc: "Share at the high end.", field: adc(func(a *ADCInput) any { return &a.HighRatio })},
		{Name: "shunt", Kind: Measure, Quantity: units.Resistance, Min: 1, Max: 1000, Example: `"150 ohm"`,
			Doc: "loop_4_20: measured resistance over which the voltage is taken.", field: adc(func(a *ADCInput) any { return &a.ShuntOhm })},
		{Name: "low", Kind: Measure, Quantity: units.Voltage, Max: 36, Example: `"0 V"`,
			Doc: "voltage: output at the low end. Without it 0 V.", field: adc(func(a *ADCInput) any { return &a.LowV })},
		{Name: "high", Kind: Measure, Quantity: units.Voltage, Max: 36, Above: true, Example: `"10 V"`,
			Doc: "voltage: output at the high end.", field: adc(func(a *ADCInput) any { return &a.HighV })},
		{Name: "open_high", Kind: Flag, Example: `true`,
			Doc: "voltage: a pull-up lifts an open wire above the signal. Without it or a live zero a wire off can't be told from zero.", field: adc(func(a *ADCInput) any { return &a.OpenHigh })},
		{Name: "supply_min", Kind: Measure, Quantity: units.Voltage, Max: 36, Above: true, Example: `"4.75 V"`,
			Doc: "supply: least that is allowed; ratiometric: what the transducer allows. Without both 4.5 and 5.5 V.", field: adc(func(a *ADCInput) any { return &a.SupplyMinV })},
		{Name: "supply_max", Kind: Measure, Quantity: units.Voltage, Max: 36, Above: true, Example: `"5.25 V"`,
			Doc: "Most that is allowed.", field: adc(func(a *ADCInput) any { return &a.SupplyMaxV })},
	}
}

func adcBlockKeys() []Key {
	return []Key{
		{Name: "pulsation", Kind: Choice, Choices: channelsOf(units.Pressure), Example: `"inlet_pulsation"`,
			Doc: "A pressure: channel for the RMS of its fast part. The input is then sampled in blocks.", field: adc(func(a *ADCInput) any { return &a.pulsation })},
		{Name: "block", Kind: Measure, Quantity: units.Duration, Min: 0.05, Max: 10, Example: `"500 ms"`,
			Doc: "Length of such a block.", field: adc(func(a *ADCInput) any { return &a.Block })},
	}
}

func adcResistiveKeys() []Key {
	return []Key{
		{Name: "feed", Kind: Choice, Choices: []string{"pull_up", "pull_down", "current_source"}, Example: `"pull_up"`,
			Doc: "ntc, pt100, pt1000: pull_up with the fixed resistor to the supply, pull_down with it to ground, or a current_source.", field: adc(func(a *ADCInput) any { return &a.Resistive.Feed })},
		{Name: "fixed", Kind: Measure, Quantity: units.Resistance, Min: 10, Max: 1e7, Example: `"10 kohm"`,
			Doc: "The divider's fixed resistor.", field: adc(func(a *ADCInput) any { return &a.Resistive.FixedOhm })},
		{Name: "feed_voltage", Kind: Measure, Quantity: units.Voltage, Min: 1, Max: 36, Example: `"3.3 V"`,
			Doc: "The divider's supply where no reference measures it.", field: adc(func(a *ADCInput) any { return &a.Resistive.FeedV })},
		{Name: "feed_current", Kind: Measure, Quantity: units.Current, Min: 1e-6, Max: 20e-3, Example: `"0.5 mA"`,
			Doc: "The current source's current.", field: adc(func(a *ADCInput) any { return &a.Resistive.FeedA })},
		{Name: "leads", Kind: Measure, Quantity: units.Resistance, Max: 100, Example: `"0.4 ohm"`,
			Doc: "Resistance of both leads together, with two wires.", field: adc(func(a *ADCInput) any { return &a.Resistive.LeadsOhm })},
		{Name: "r25", Kind: Measure, Quantity: units.Resistance, Min: 10, Max: 1e7, Example: `"10 kohm"`,
			Doc: "ntc: resistance at 25 °C.", field: adc(func(a *ADCInput) any { return &a.Resistive.R25Ohm })},
		{Name: "beta", Kind: Number, Min: 1000, Max: 10_000, Example: `3435`,
			Doc: "ntc: the maker's constant B in K; up to 1 °C off over 0 to 100 °C, so prefer the three coefficients.", field: adc(func(a *ADCInput) any { return &a.Resistive.BetaK })},
		{Name: "coefficient_a", Kind: Number, Min: -1, Max: 1, Example: `1.1e-3`,
			Doc: "ntc: Steinhart and Hart's A, with B and C in place of r25 and beta.", field: adc(func(a *ADCInput) any { return &a.Resistive.A })},
		{Name: "coefficient_b", Kind: Number, Min: -1, Max: 1, Example: `2.4e-4`,
			Doc: "ntc: B.", field: adc(func(a *ADCInput) any { return &a.Resistive.B })},
		{Name: "coefficient_c", Kind: Number, Min: -1, Max: 1, Example: `7.5e-8`,
			Doc: "ntc: C.", field: adc(func(a *ADCInput) any { return &a.Resistive.C })},
		{Name: "min_temp", Kind: Measure, Quantity: units.Temperature, Min: 73.15, Max: 1123.15, Example: `"-20 °C"`,
			Doc: "Lowest temperature that is believed. Without both what suits the part.", field: adc(func(a *ADCInput) any { return &a.Resistive.MinK })},
		{Name: "max_temp", Kind: Measure, Quantity: units.Temperature, Min: 73.15, Max: 1123.15, Example: `"110 °C"`,
			Doc: "Highest temperature that is believed.", field: adc(func(a *ADCInput) any { return &a.Resistive.MaxK })},
		{Name: "short_below", Kind: Measure, Quantity: units.Resistance, Max: 1e8, Above: true, Example: `"50 ohm"`,
			Doc: "ntc: below it is a short. Without both 50 ohm and 500 kohm.", field: adc(func(a *ADCInput) any { return &a.Resistive.ShortOhm })},
		{Name: "open_above", Kind: Measure, Quantity: units.Resistance, Max: 1e8, Above: true, Example: `"500 kohm"`,
			Doc: "ntc: above it is an open wire.", field: adc(func(a *ADCInput) any { return &a.Resistive.OpenOhm })},
	}
}

func adcTransformerKeys() []Key {
	return []Key{
		{Name: "ratio", Kind: Number, Min: 1, Max: 1e5, Example: `2000.0`,
			Doc: "current_transformer: primary by secondary current, 2000 for 100 A : 50 mA.", field: adc(func(a *ADCInput) any { return &a.Transformer.Ratio })},
		{Name: "burden", Kind: Measure, Quantity: units.Resistance, Min: 0.1, Max: 1000, Example: `"22 ohm"`,
			Doc: "Its burden. A transformer must never run without.", field: adc(func(a *ADCInput) any { return &a.Transformer.BurdenOhm })},
		{Name: "amps_per_volt", Kind: Number, Min: 1, Max: 1e5, Example: `30.0`,
			Doc: "In place of ratio and burden: primary current in A per V, for one with its burden inside.", field: adc(func(a *ADCInput) any { return &a.Transformer.APerV })},
		{Name: "turns", Kind: Count, Min: 1, Max: 100, Example: `1`,
			Doc: "How often the conductor passes through.", field: adc(func(a *ADCInput) any { return &a.Transformer.Turns })},
		{Name: "bias", Kind: Measure, Quantity: units.Voltage, Max: 5, Example: `"1.65 V"`,
			Doc: "Mid-point to which the secondary is lifted; leave it out for a pair of pins.", field: adc(func(a *ADCInput) any { return &a.Transformer.BiasV })},
		{Name: "bias_tolerance", Kind: Measure, Quantity: units.Voltage, Max: 1, Example: `"0.1 V"`,
			Doc: "How far the mid-point may be off.", field: adc(func(a *ADCInput) any { return &a.Transformer.BiasTolV })},
		{Name: "max_current", Kind: Measure, Quantity: units.Current, Max: 1000, Above: true, Example: `"30 A"`,
			Doc: "Largest RMS current for which transformer and input are linear; a start beyond it reads as out of range while it lasts.", field: adc(func(a *ADCInput) any { return &a.Transformer.MaxA })},
		{Name: "cycles", Kind: Count, Min: 1, Max: 60, Example: `10`,
			Doc: "Mains cycles in one block. Without it 10.", field: adc(func(a *ADCInput) any { return &a.Transformer.Cycles })},
	}
}
