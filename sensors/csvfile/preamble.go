package csvfile

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"headroom/rules/units"
)

// maxPreamble is how many lines a logger may write before its header: name,
// serial number, settings.
const maxPreamble = 100

// cut splits a line of the head as the map has it.
func (r *Reader) cut(line []byte, m Map) []string {
	if m.Delimiter == 0 {
		return split(line, ',')
	}
	return split(line, byte(m.Delimiter))
}

// afterPreamble looks for the header below lines that a logger wrote before it:
// the first that has the map's time and one of its columns, by whichever
// delimiter. Without one it returns the line that it was given, for the error.
func (r *Reader) afterPreamble(first []byte, m Map) []byte {
	first = bytes.Clone(first)
	for range maxPreamble {
		line, _, err := r.lines.next()
		if err != nil {
			return first
		}
		for _, d := range [...]byte{byte(max(m.Delimiter, 0)), ',', ';', '\t', '|'} {
			if d == 0 {
				continue
			}
			names := split(line, d)
			if slices.Contains(names, m.Time.Column) && known(names, m) > 1 {
				return line
			}
		}
	}
	return first
}

// timeCell is the present row's time, with the date of its own column before
// it.
func (r *Reader) timeCell() []byte {
	cell := r.field(r.timeCol)
	if r.dateCol < 0 {
		return cell
	}
	r.both = append(append(append(r.both[:0], r.field(r.dateCol)...), ' '), cell...)
	return r.both
}

// unitsRow reports whether the present line names the columns' units: no time,
// and no number anywhere. A unit that isn't the map's is told, since one of the
// two is wrong.
func (r *Reader) unitsRow() bool {
	if _, ok := r.clock.parse(r.timeCell()); ok {
		return false
	}
	words := 0
	for i := range r.split.fields {
		cell := r.field(i)
		if _, number := parseNumber(cell, r.point); number {
			return false
		}
		words += min(len(cell), 1)
	}
	if words == 0 || words == 1 && len(r.split.fields) > 2 {
		return false // a torn row, or a remark
	}
	for i := range r.columns {
		r.checkUnit(&r.columns[i])
	}
	return true
}

func (r *Reader) checkUnit(c *bound) {
	text := unitText(string(r.field(c.value)))
	u, ok := lookUnit(c.Channel.Quantity(), text)
	mapped := c.Unit
	if mapped.Scale == 0 {
		mapped.Scale = 1
	}
	if ok && (u.Scale != mapped.Scale || u.Offset != mapped.Offset) {
		r.cell(r.names[c.value], []byte(text), fmt.Sprintf("is the file's own unit, but the map says %q", c.Unit.Symbol), "correct the unit in the column map")
	}
}

// unitText takes the brackets off a unit: "[psi]", "(psi)".
func unitText(s string) string { return strings.Trim(strings.TrimSpace(s), "[]() ") }

// lookUnit finds a unit as loggers write it, in any case and with the words of
// the trade.
func lookUnit(q units.Quantity, text string) (units.Unit, bool) {
	if text == "" {
		return units.Unit{}, false
	}
	if u, ok := units.Lookup(q, text); ok {
		return u, true
	}
	lower := strings.ToLower(strings.ReplaceAll(text, " ", ""))
	for _, alias := range [...][2]string{
		{"psig", "psi"}, {"barg", "bar"}, {"gal/min", "gpm"}, {"usgpm", "gpm"}, {"lpm", "L/min"}, {"amps", "A"}, {"amp", "A"},
		{"degf", "°F"}, {"deg.f", "°F"}, {"degc", "°C"}, {"deg.c", "°C"}, {"ºf", "°F"}, {"ºc", "°C"}, {"volts", "V"}, {"volt", "V"}, {"m³/h", "m3/h"},
		{"rev/min", "rpm"}, {"percent", "%"}, {"sec", "s"},
	} {
		if lower == alias[0] {
			return units.Lookup(q, alias[1])
		}
	}
	for _, s := range units.Symbols(q) {
		if strings.ToLower(s) == lower && len(s) > 1 { // of one letter the case counts
			return units.Lookup(q, s)
		}
	}
	return units.Unit{}, false
}
