package config

func csvSchema() []Section {
	return []Section{
		{Name: "csv", Doc: "How a recording in a CSV file becomes channels. A side file with only this part, the machine and its channels is a whole config.", Keys: []Key{
			{Name: "delimiter", Kind: Delimiter, Default: `","`,
				Doc: "Character between fields.", field: func(c *Config, _ int) any { return &c.CSV.Delimiter }},
			{Name: "decimal", Kind: Choice, Choices: []string{".", ","}, Default: `"."`,
				Doc: "Decimal mark of the numbers.", field: func(c *Config, _ int) any { return func(s string) { c.CSV.DecimalComma = s == "," } }},
		}},
		{Name: "csv.time", Doc: "The column of time: a date with a format, or a number with a unit.", Keys: []Key{
			{Name: "column", Kind: Text, Example: `"time"`,
				Doc: "Name in the header.", field: func(c *Config, _ int) any { return &c.CSV.Time.Column }},
			{Name: "date_column", Kind: Text, Example: `"date"`,
				Doc: "Name in the header of the column of the date, where the time's column has only the time of day; format is then both with a blank between.", field: func(c *Config, _ int) any { return &c.CSV.Time.DateColumn }},
			{Name: "format", Kind: DateFormat, Example: `"YYYY-MM-DD hh:mm:ss"`,
				Doc: "How dates are written: YYYY MM DD hh mm ss, zzz for a zone; M D h without a leading 0, AM for AM or PM. A fraction of a second is read where there is one. epoch: a number that counts from 1970-01-01 UTC, in the unit below.", field: func(c *Config, _ int) any { return &c.CSV.Time.Format }},
			{Name: "unit", Kind: Choice, Choices: []string{"s", "ms", "us", "ns"}, Example: `"ms"`,
				Doc: "Unit of a number, which counts from any start, or from 1970 where format is epoch.", field: func(c *Config, _ int) any { return &c.CSV.Time.Unit }},
		}},
		{Name: "csv.column", Array: true, Max: 64, Doc: "One column that feeds one channel; write one section per column. All other columns are ignored.", Keys: csvColumnKeys(),
			grow: func(c *Config, _ int) { c.CSV.Columns = append(c.CSV.Columns, CSVColumn{Scale: 1}) }},
	}
}

func csvColumnKeys() []Key {
	return []Key{
		{Name: "name", Kind: Text, Required: true, Example: `"Inlet (psi)"`,
			Doc: "Name in the header.", field: func(c *Config, i int) any { return &c.CSV.Columns[i].Name }},
		{Name: "channel", Kind: Choice, Choices: channelNames(), Required: true, Example: `"inlet_pressure"`,
			Doc: "Channel it feeds.", field: func(c *Config, i int) any { return &c.CSV.Columns[i].channel }},
		{Name: "unit", Kind: Text, Required: true, Example: `"psi"`,
			Doc: "Unit of the column; \"\" for a share of 1 or a switch.", field: func(c *Config, i int) any { return &c.CSV.Columns[i].symbol }},
		{Name: "scale", Kind: Number, Min: -1e9, Max: 1e9, Example: `1.0`,
			Doc: "The value is field x scale + offset, in the unit.", field: func(c *Config, i int) any { return &c.CSV.Columns[i].Scale }},
		{Name: "offset", Kind: Number, Min: -1e9, Max: 1e9, Example: `0.0`,
			Doc: "See scale.", field: func(c *Config, i int) any { return &c.CSV.Columns[i].Offset }},
		{Name: "status_column", Kind: Text, Example: `"inlet status"`,
			Doc: "Column with the reading's status, if there is one.", field: func(c *Config, i int) any { return &c.CSV.Columns[i].StatusColumn }},
	}
}
