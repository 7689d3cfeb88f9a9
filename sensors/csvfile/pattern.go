package csvfile

import (
	"fmt"
	"strings"
)

// field is a part of a date.
type field uint8

const (
	literal field = iota
	year
	month
	day
	hour
	minute
	second
	half
	numFields
)

// token is one part of a pattern: a number of min to max digits, the half of a
// day, AM or PM, or a literal character.
type token struct {
	field    field
	min, max int
	char     byte
}

var patternWords = []struct {
	word string
	tok  token
}{
	{"YYYY", token{year, 4, 4, 0}}, {"yyyy", token{year, 4, 4, 0}},
	{"MM", token{month, 2, 2, 0}}, {"M", token{month, 1, 2, 0}},
	{"DD", token{day, 2, 2, 0}}, {"dd", token{day, 2, 2, 0}},
	{"D", token{day, 1, 2, 0}}, {"d", token{day, 1, 2, 0}},
	{"hh", token{hour, 2, 2, 0}}, {"HH", token{hour, 2, 2, 0}},
	{"h", token{hour, 1, 2, 0}}, {"H", token{hour, 1, 2, 0}},
	{"mm", token{minute, 2, 2, 0}}, {"ss", token{second, 2, 2, 0}},
	{"AM", token{half, 2, 2, 0}}, {"PM", token{half, 2, 2, 0}},
}

// parsePattern reads a pattern such as "YYYY-MM-DD hh:mm:ss" or "M/D/YYYY h:mm
// AM".
func parsePattern(p string) ([]token, error) {
	var out []token
	var has [numFields]bool
	for rest := p; rest != ""; {
		tok := token{char: rest[0]}
		n := 1
		for _, w := range patternWords {
			if strings.HasPrefix(rest, w.word) {
				tok, n = w.tok, len(w.word)
				break
			}
		}
		if tok.field == literal && (isLetter(tok.char) && tok.char != 'T' && tok.char != 'Z' || tok.char > '~') {
			return nil, fmt.Errorf("the format %q has %q, which is no part of a date; write for example YYYY-MM-DD hh:mm:ss", p, rest)
		}
		if tok.field != literal && has[tok.field] {
			return nil, fmt.Errorf("the format %q has %q twice; months are MM, minutes are mm", p, rest[:n])
		}
		has[tok.field] = true
		out, rest = append(out, tok), rest[n:]
	}
	for _, f := range [...]field{year, month, day, hour, minute} {
		if !has[f] {
			return nil, fmt.Errorf("the format %q does not hold a whole date and time; write for example YYYY-MM-DD hh:mm:ss", p)
		}
	}
	return out, nil
}

func isLetter(c byte) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' }

// match reads a cell by the pattern. After the seconds a fraction may follow,
// of which digits beyond a nanosecond are cut.
func (c *clock) match(b []byte) (ns int64, ok bool) {
	var v [numFields]int
	for _, tok := range c.tokens {
		if tok.field == literal {
			if len(b) == 0 || b[0] != tok.char {
				return 0, false
			}
			b = b[1:]
			continue
		}
		if tok.field == half {
			if v[half], b, ok = halfOfDay(b); !ok {
				return 0, false
			}
			continue
		}
		n := 0
		for n < len(b) && n < tok.max && isDigit(b[n]) {
			v[tok.field] = v[tok.field]*10 + int(b[n]-'0')
			n++
		}
		if n < tok.min {
			return 0, false
		}
		b = b[n:]
		if tok.field == second {
			ns, b = fraction(b)
		}
	}
	if v[half] != 0 {
		if v[hour] < 1 || v[hour] > 12 {
			return 0, false
		}
		v[hour] = v[hour]%12 + v[half] - 1
	}
	if len(b) > 0 || v[hour] > 23 || v[minute] > 59 || v[second] > 59 {
		return 0, false
	}
	unix, ok := c.day.unixDay(v[year], v[month], v[day])
	if !ok {
		return 0, false
	}
	return ns + 1e9*(unix+int64(v[hour]*3600+v[minute]*60+v[second])), true
}

// halfOfDay reads AM or PM, also in small letters and as a.m., as the hours that
// it adds and 1, and returns what follows. 12 AM is midnight, 12 PM noon; common
// practice, no source.
func halfOfDay(b []byte) (v int, rest []byte, ok bool) {
	if len(b) == 0 {
		return 0, b, false
	}
	switch b[0] {
	case 'A', 'a':
		v = 1
	case 'P', 'p':
		v = 13
	default:
		return 0, b, false
	}
	for _, tail := range [...]string{"m", ".m.", ".m"} {
		if n := 1 + len(tail); len(b) >= n && equalFold(b[1:n], tail) {
			return v, b[n:], true
		}
	}
	return 0, b, false
}

// fraction reads ".123" or ",123" into nanoseconds and returns what follows.
func fraction(b []byte) (ns int64, rest []byte) {
	if len(b) < 2 || b[0] != '.' && b[0] != ',' || !isDigit(b[1]) {
		return 0, b
	}
	i := 1
	for unit := int64(1e8); i < len(b) && isDigit(b[i]); i++ {
		ns += int64(b[i]-'0') * unit
		unit /= 10
	}
	return ns, b[i:]
}
