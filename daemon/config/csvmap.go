package config

import (
	"strings"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// CSVMap says how the columns of a recording become channels. With no Columns
// the file has no map.
type CSVMap struct {
	// Delimiter between fields.
	Delimiter rune
	// DecimalComma: numbers are written 1,5 and not 1.5.
	DecimalComma bool
	// Time is the column of time.
	Time CSVTime
	// Columns are those that are read; all others are ignored.
	Columns []CSVColumn
}

// CSVTime is the column of time. Exactly one of Format and Unit is set.
type CSVTime struct {
	// Column is the header's name.
	Column string
	// Format is a layout of package time, for dates.
	Format string
	// Unit is "s", "ms", "us" or "ns", for numbers counted from any start.
	Unit string
}

// CSVColumn is one column that feeds one channel. The channel's SI value is
// Unit.ToSI(field*Scale + Offset).
type CSVColumn struct {
	// Name is the header's name.
	Name string
	// Channel it feeds.
	Channel frame.Channel
	// Unit that field*Scale+Offset is in.
	Unit units.Unit
	// Scale and Offset are the sensor's own correction; 1 and 0 for none.
	Scale, Offset float64
	// StatusColumn is the header's name of a column with frame's status names;
	// empty where every value counts as good.
	StatusColumn string

	channel, symbol string
}

// layoutParts turns the letters people write dates in into package time's.
// Longer ones first, so that YYYY is not taken for two YY.
var layoutParts = []string{
	"YYYY", "2006", "MM", "01", "DD", "02",
	"hh", "15", "mm", "04", "ss", "05", "zzz", "Z07:00",
}

// layout returns package time's layout for a date written with YYYY MM DD hh
// mm ss and zzz (a zone such as Z or +01:00). A fraction after the seconds is
// read without being asked for. ok is false where a part that a time needs is
// missing or a letter or digit is left over that would be taken literally.
func layout(text string) (string, bool) {
	rest := text
	for i := 0; i < len(layoutParts); i += 2 {
		if layoutParts[i] != "zzz" && strings.Count(text, layoutParts[i]) != 1 {
			return "", false
		}
		rest = strings.ReplaceAll(rest, layoutParts[i], "")
	}
	rest = strings.ReplaceAll(rest, "T", "")
	if strings.Trim(rest, " -/.:,") != "" {
		return "", false
	}
	return strings.NewReplacer(layoutParts...).Replace(text), true
}
