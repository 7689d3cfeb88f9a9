package csvfile

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// clock reads one file's time column as nanoseconds: since 1970 UTC where the
// column holds a date, else since any start.
type clock struct {
	// wall is true when the column tells the date.
	wall bool
	// unit is the number of nanoseconds a written 1 stands for; 0 for dates.
	unit int64
	// point is the decimal mark of a written number.
	point byte
	// tokens are the pattern; layout is used where Go's own parser must.
	tokens []token
	layout string
	day    dayCache
}

// maxNs keeps differences of times inside an int64: about 146 years, so dates
// from 1824 to 2116.
const maxNs = math.MaxInt64 / 2

var nsPerUnit = map[string]int64{"": 1e9, "s": 1e9, "ms": 1e6, "us": 1e3, "µs": 1e3, "ns": 1}

func newClock(c TimeColumn) (*clock, error) {
	unit, ok := nsPerUnit[c.Unit]
	if !ok {
		return nil, fmt.Errorf("time column %q: the unit %q is not one of s, ms, us, ns", c.Column, c.Unit)
	}
	switch strings.ToLower(c.Format) {
	case "", "elapsed":
		return &clock{unit: unit, point: '.'}, nil
	case "epoch":
		return &clock{unit: unit, point: '.', wall: true}, nil
	}
	if c.Unit != "" {
		return nil, fmt.Errorf("time column %q: the unit %q is for a number, but the format %q is a date; leave one out", c.Column, c.Unit, c.Format)
	}
	if strings.ContainsAny(c.Format, "0123456789") {
		return goClock(c)
	}
	tokens, err := parsePattern(c.Format)
	if err != nil {
		return nil, fmt.Errorf("time column %q: %w", c.Column, err)
	}
	return &clock{wall: true, tokens: tokens}, nil
}

// goClock takes a layout of Go's time package; the usual ones become a pattern,
// which reads faster.
func goClock(c TimeColumn) (*clock, error) {
	p := strings.NewReplacer("2006", "YYYY", "01", "MM", "02", "DD", "15", "hh", "04", "mm", "05", "ss").Replace(c.Format)
	if i := strings.Index(p, "ss."); i > 0 { // a fraction is always taken
		p = p[:i+2] + strings.TrimLeft(p[i+3:], "09")
	}
	if !strings.ContainsAny(p, "0123456789") {
		if tokens, err := parsePattern(p); err == nil {
			return &clock{wall: true, tokens: tokens}, nil
		}
	}
	ref := time.Date(2021, 11, 23, 17, 48, 0, 0, time.UTC)
	got, err := time.Parse(c.Format, ref.Format(c.Format))
	if err != nil || !got.Truncate(time.Minute).Equal(ref) {
		return nil, fmt.Errorf("time column %q: the format %q does not hold a whole date and time; write for example YYYY-MM-DD hh:mm:ss", c.Column, c.Format)
	}
	return &clock{wall: true, layout: c.Format}, nil
}

// parse reads one cell. ok is false when it isn't a time in the column's
// format or lies outside the years that an int64 of nanoseconds can hold.
func (c *clock) parse(b []byte) (ns int64, ok bool) {
	switch {
	case c.unit != 0:
		return parseScaled(b, c.unit, c.point)
	case c.layout != "":
		t, err := time.Parse(c.layout, string(b))
		if err != nil || t.Year() < 1825 || t.Year() > 2115 {
			return 0, false
		}
		return t.UnixNano(), true
	}
	return c.match(b)
}

// parseScaled reads a decimal number times unit without rounding through a
// float64, which has no bits left for the nanoseconds of a date. Digits beyond
// a nanosecond are cut.
func parseScaled(b []byte, unit int64, point byte) (ns int64, ok bool) {
	neg := len(b) > 0 && b[0] == '-'
	if neg || len(b) > 0 && b[0] == '+' {
		b = b[1:]
	}
	i, whole := 0, int64(0)
	for ; i < len(b) && isDigit(b[i]); i++ {
		if whole > maxNs/unit/10 {
			return 0, false
		}
		whole = whole*10 + int64(b[i]-'0')
	}
	digits := i
	ns = whole * unit
	if i < len(b) && b[i] == point {
		for i++; i < len(b) && isDigit(b[i]); i++ {
			unit /= 10
			ns += int64(b[i]-'0') * unit
			digits++
		}
	}
	if i < len(b) || digits == 0 || ns > maxNs {
		return 0, false
	}
	if neg {
		ns = -ns
	}
	return ns, true
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// dayCache remembers the last date, as neighbouring rows share it.
type dayCache struct {
	y, m, d int
	unix    int64
}

// unixDay returns the seconds from 1970 to the date's midnight UTC; ok is false
// for a date that doesn't exist or lies outside the years taken.
func (c *dayCache) unixDay(y, m, d int) (unix int64, ok bool) {
	if y == c.y && m == c.m && d == c.d {
		return c.unix, true
	}
	if y < 1825 || y > 2115 || m < 1 || m > 12 || d < 1 {
		return 0, false
	}
	t := time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC)
	if t.Day() != d {
		return 0, false
	}
	*c = dayCache{y, m, d, t.Unix()}
	return c.unix, true
}
