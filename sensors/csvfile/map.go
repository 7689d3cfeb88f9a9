package csvfile

import (
	"fmt"
	"math"
	"strconv"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// Map says how the columns of somebody's recording become channels. The zero
// Map is for the program's own recordings, which need none.
type Map struct {
	// Delimiter between fields, an ASCII character; 0 for a comma.
	Delimiter rune
	// DecimalComma is true where numbers are written 1,5 and not 1.5.
	DecimalComma bool
	// Time is the column that orders the rows.
	Time TimeColumn
	// Columns are those that become channels; others are ignored.
	Columns []Column
}

// TimeColumn says how the time is written.
type TimeColumn struct {
	// Column is its name in the header.
	Column string
	// DateColumn is the name of a second column that holds the date, where
	// Column has only the time of day; Format is then for "date time", both with
	// a blank between. Empty for none.
	DateColumn string
	// Format is empty or "elapsed" for a number that counts from any start,
	// "epoch" for a number that counts from 1970-01-01 UTC, a pattern such as
	// "YYYY-MM-DD hh:mm:ss" or "M/D/YYYY h:mm:ss AM", or a layout of Go's time
	// package. A fraction of a second may always follow the seconds. A time
	// without a zone is taken as UTC, so that no hour repeats.
	Format string
	// Unit of a number: "s" (also when empty), "ms", "us" or "ns".
	Unit string
}

// Column is one column of values.
type Column struct {
	// Name in the header.
	Name string
	// Channel that the values belong to.
	Channel frame.Channel
	// Unit that the values are written in; the zero Unit is SI.
	Unit units.Unit
	// Scale and Offset correct the written number before its unit is taken
	// off: number*Scale + Offset. A Scale of 0 counts as 1.
	Scale, Offset float64
	// StatusColumn is the name of the column with the words of frame.Status
	// for this channel; empty for none.
	StatusColumn string
}

// IsZero reports whether the map is empty, as for the program's own recordings.
func (m *Map) IsZero() bool { return len(m.Columns) == 0 && m.Time.Column == "" }

// Validate reports the first thing in the map that can't work, whatever the
// file. The zero Map is valid.
func (m *Map) Validate() error {
	if m.IsZero() {
		return nil
	}
	if err := checkDelimiter(m.Delimiter); err != nil {
		return err
	}
	if m.Time.Column == "" {
		return fmt.Errorf("the map names no time column; name the one that orders the rows")
	}
	c, err := newClock(m.Time)
	if err != nil {
		return err
	}
	if m.Time.DateColumn != "" && c.unit != 0 {
		return fmt.Errorf("time column %q: a date in a column of its own needs a format for both, such as YYYY-MM-DD hh:mm:ss", m.Time.Column)
	}
	if len(m.Columns) == 0 {
		return fmt.Errorf("the map names no column of values; name at least one with its channel")
	}
	var seen [frame.NumChannels]bool
	for i := range m.Columns {
		c := &m.Columns[i]
		if err := c.validate(); err != nil {
			return err
		}
		if seen[c.Channel] {
			return fmt.Errorf("the map gives %s two columns; leave one out", c.Channel)
		}
		seen[c.Channel] = true
	}
	return nil
}

func checkDelimiter(d rune) error {
	switch {
	case d == 0 || d == '\t':
		return nil
	case d < ' ' || d > '~' || d == '"' || d == '#' || d == '.' || d == '-' || d == '+',
		d >= '0' && d <= '9', d >= 'a' && d <= 'z', d >= 'A' && d <= 'Z':
		return fmt.Errorf("%s can't split fields; use a comma, a semicolon or a tab", strconv.QuoteRune(d))
	}
	return nil
}

func (c *Column) validate() error {
	if c.Channel >= frame.NumChannels {
		return fmt.Errorf("column %q belongs to no known channel", c.Name)
	}
	if c.Name == "" {
		return fmt.Errorf("the column of %s has no name; write it as in the file's header", c.Channel)
	}
	for _, v := range [...]float64{c.Scale, c.Offset, c.Unit.Scale, c.Unit.Offset} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("column %q: scale and offset must be numbers", c.Name)
		}
	}
	return nil
}

// toSI turns a written number into the channel's SI unit. A column that needs
// no conversion keeps its bits, also those of minus zero.
func (c *Column) toSI(v float64) float64 {
	if c.Scale != 0 && c.Scale != 1 {
		v = float64(v * c.Scale) // rounded here on every processor, not fused
	}
	if c.Offset != 0 {
		v += c.Offset
	}
	if c.Unit.Scale == 0 || c.Unit.Scale == 1 && c.Unit.Offset == 0 {
		return v
	}
	return c.Unit.ToSI(v)
}
