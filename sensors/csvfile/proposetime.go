package csvfile

import (
	"fmt"
	"strings"
)

// datePatterns are the ways that dates are written in logs and spreadsheets;
// the first that reads all is taken. Common practice, no source; the first is
// that of ISO 8601.
var datePatterns = [...]string{"YYYY-MM-DD", "YYYY/MM/DD", "YYYY.MM.DD", "M/D/YYYY", "D/M/YYYY", "D.M.YYYY", "M-D-YYYY", "D-M-YYYY"}

var timePatterns = [...]string{"hh:mm:ss", "h:mm:ss AM", "h:mm:ssAM", "h:mm:ss"}

// joints stand between date and time in one column.
var joints = [...]string{" ", "T", "  ", ", "}

// ends stand behind it.
var ends = [...]string{"", "Z"}

// findTime finds the column of times, or the two of date and time, and returns
// which columns are used up so.
func (p *Proposal) findTime(t table) map[int]bool {
	for i, name := range t.names {
		if format, ok := p.dated(t.cells(i)); ok {
			p.Map.Time = TimeColumn{Column: name, Format: format}
			return map[int]bool{i: true}
		}
	}
	for i := range t.names {
		dates := t.cells(i)
		if len(dates) == 0 || !strings.ContainsAny(dates[0], "-/.") || strings.Contains(dates[0], ":") {
			continue
		}
		for j := max(i-3, 0); j < min(i+4, len(t.names)); j++ { // they stand together
			times := t.cells(j)
			if i == j || len(dates) != len(times) || !strings.Contains(times[0], ":") {
				continue
			}
			if format, ok := p.dated(joined(dates, times)); ok {
				p.Map.Time = TimeColumn{Column: t.names[j], DateColumn: t.names[i], Format: format}
				return map[int]bool{i: true, j: true}
			}
		}
	}
	for i, name := range t.names {
		if unit, ok := counted(name, t.unit(i)); ok && rises(t.cells(i), t.point) {
			p.Map.Time = TimeColumn{Column: name, Unit: unit}
			if since1970(t.cells(i), unit, t.point) {
				p.Map.Time.Format = "epoch"
			}
			return map[int]bool{i: true}
		}
	}
	return nil
}

func joined(dates, times []string) (out []string) {
	for i := range dates {
		out = append(out, dates[i]+" "+times[i])
	}
	return out
}

// dated finds the one format that reads every cell. Where day and month could
// change places, that is a doubt.
func (p *Proposal) dated(cells []string) (string, bool) {
	if len(cells) == 0 || !strings.Contains(cells[0], ":") || len(cells[0]) > 64 {
		return "", false
	}
	var fit []string
	for _, d := range datePatterns {
		for _, joint := range joints {
			for _, hours := range timePatterns {
				for _, end := range ends {
					if format := d + joint + hours + end; readsAll(format, cells) {
						fit = append(fit, format)
					}
				}
			}
		}
	}
	if len(fit) == 0 {
		return "", false
	}
	for _, other := range fit[1:] {
		if strings.HasPrefix(fit[0], "M") && strings.HasPrefix(other, "D") {
			p.Doubts = append(p.Doubts, fmt.Sprintf("The dates read as month first, but day first would also do: is it %s or %s?", fit[0], other))
			break
		}
	}
	return fit[0], true
}

func readsAll(format string, cells []string) bool {
	c, err := newClock(TimeColumn{Format: format})
	if err != nil {
		return false
	}
	for _, cell := range cells {
		if _, ok := c.parse([]byte(cell)); !ok {
			return false
		}
	}
	return true
}

// counted tells the unit of a column that counts time; without one in the file
// it is no guess to take.
func counted(name, unit string) (string, bool) {
	lower := strings.ToLower(name)
	if !strings.Contains(lower, "time") && !strings.Contains(lower, "elapsed") && lower != "t" && !strings.HasPrefix(lower, "t_") && !strings.HasPrefix(lower, "t ") && !strings.HasPrefix(lower, "t(") {
		return "", false
	}
	switch strings.ToLower(unit) {
	case "s", "sec", "secs", "second", "seconds":
		return "s", true
	case "ms", "us", "ns":
		return strings.ToLower(unit), true
	}
	return "", false
}

// since1970 reports whether a number that counts time is a date of 2001 to 2100:
// no logger counts 31 years from its own start.
func since1970(cells []string, unit string, point byte) bool {
	c := clock{unit: nsPerUnit[unit], point: point}
	for _, cell := range cells {
		ns, ok := c.parse([]byte(cell))
		if !ok || ns < 1e18 || ns > 4.1e18 {
			return false
		}
	}
	return len(cells) > 0
}

func rises(cells []string, point byte) bool {
	last, ok := 0.0, len(cells) > 0
	for i, cell := range cells {
		v, number := parseNumber([]byte(cell), point)
		if !number || i > 0 && v < last {
			return false
		}
		last = v
	}
	return ok
}
