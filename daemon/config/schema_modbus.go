package config

import "headroom/rules/units"

func modbusKeys() []Key {
	m := func(c *Config, i int) *ModbusPoint { return &c.Sensors.Modbus[i] }
	return []Key{
		{Name: "port", Kind: Text, Required: true, Example: `"/dev/serial/by-id/usb-adapter"`,
			Doc: "Serial line; a link below /dev/serial/by-id stays the same when two adapters change places.", field: func(c *Config, i int) any { return &m(c, i).Port }},
		{Name: "baud", Kind: Count, Min: 1200, Max: 115_200, Allowed: []int64{1200, 2400, 4800, 9600, 19_200, 38_400, 57_600, 115_200}, Example: `9600`,
			Doc: "Rate of the line, the same for all its points. Without it 9600.", field: func(c *Config, i int) any { return &m(c, i).Baud }},
		{Name: "framing", Kind: Choice, Choices: []string{"8N1", "8E1", "8O1", "8N2"}, Example: `"8N1"`,
			Doc: "Parity and stop bits. Without it 8N1; the standard's own is 8E1.", field: func(c *Config, i int) any { return &m(c, i).Framing }},
		{Name: "station", Kind: Count, Min: 1, Max: 247, Required: true, Example: `1`,
			Doc: "The unit's number on the line.", field: func(c *Config, i int) any { return &m(c, i).Station }},
		{Name: "table", Kind: Choice, Choices: []string{"input", "holding"}, Example: `"input"`,
			Doc: "Which registers. Without it input.", field: func(c *Config, i int) any { return &m(c, i).Table }},
		{Name: "register", Kind: Count, Max: 65_535, Required: true, Example: `6`,
			Doc: "Register, counted from 0 as on the wire: manuals that begin at 1, 30001 or 40001 are off by that.", field: func(c *Config, i int) any { return &m(c, i).Register }},
		{Name: "type", Kind: Choice, Choices: []string{"u16", "s16", "u32", "s32", "f32"}, Example: `"f32"`,
			Doc: "How the value lies in the registers. Without it u16.", field: func(c *Config, i int) any { return &m(c, i).Type }},
		{Name: "words", Kind: Choice, Choices: []string{"high_first", "low_first"}, Example: `"high_first"`,
			Doc: "Order of the two registers of a 32-bit value. Without it high_first.", field: func(c *Config, i int) any { return func(s string) { m(c, i).LowFirst = s == "low_first" } }},
		{Name: "scale", Kind: Number, Min: -1e9, Max: 1e9, Example: `0.001`,
			Doc: "The value is registers x scale + offset, in the unit.", field: func(c *Config, i int) any { return &m(c, i).Scale }},
		{Name: "offset", Kind: Number, Min: -1e9, Max: 1e9, Example: `0.0`,
			Doc: "See scale.", field: func(c *Config, i int) any { return &m(c, i).Offset }},
		{Name: "unit", Kind: Text, Required: true, Example: `"A"`,
			Doc: "Unit of the value.", field: func(c *Config, i int) any { return &m(c, i).Unit }},
		{Name: "not_available", Kind: Texts, Example: `["0x8000"]`,
			Doc: "Bits with which the unit says that it has no value, as its manual writes them.", field: func(c *Config, i int) any { return &m(c, i).notAvailable }},
		{Name: "channel", Kind: Choice, Choices: channelsOf(units.None), Required: true, Example: `"motor_current"`,
			Doc: "Channel it feeds.", field: func(c *Config, i int) any { return &m(c, i).channel }},
	}
}
