package csvfile

import (
	"bytes"
	"math"
	"strconv"
)

// pow10 holds the powers of ten that a float64 holds exactly, so that one
// multiplication or division of an exact whole number by them rounds right.
// Source: W. D. Clinger, How to read floating point numbers accurately, 1990.
var pow10 = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17,
}

// parseNumber reads a decimal number, correctly rounded. point is the decimal
// mark. ok is false for anything that isn't a decimal number, also for the
// words NaN and Inf and for hexadecimal; a number too large for a float64 gives
// an infinity.
func parseNumber(b []byte, point byte) (v float64, ok bool) {
	if len(b) > 17 {
		return parseSlow(b, point) // too many digits for the short way
	}
	mant, digits, scale := uint64(0), 0, 0
	i, dot := 0, false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		i = 1
	}
	for ; i < len(b); i++ {
		c := b[i]
		switch {
		case c >= '0' && c <= '9':
			digits++
			mant = mant*10 + uint64(c-'0')
			if dot {
				scale++
			}
		case c == point && !dot:
			dot = true
		case (c == 'e' || c == 'E') && digits > 0:
			return parseSlow(b, point)
		default:
			return 0, false
		}
	}
	switch {
	case digits == 0:
		return 0, false
	case mant > 1<<53:
		return parseSlow(b, point)
	}
	v = float64(mant) / pow10[scale]
	if b[0] == '-' {
		v = -v
	}
	return v, true
}

// parseSlow leaves the hard cases to strconv. b holds only signs, digits, the
// point and at most an exponent, which strconv checks.
func parseSlow(b []byte, point byte) (float64, bool) {
	for _, c := range b {
		if (c < '0' || c > '9') && c != point && c != '-' && c != '+' && c != 'e' && c != 'E' {
			return 0, false
		}
	}
	if point != '.' {
		var buf [64]byte
		b = append(buf[:0], b...)
		if i := bytes.IndexByte(b, point); i >= 0 {
			b[i] = '.'
		}
	}
	v, err := strconv.ParseFloat(string(b), 64)
	if err != nil && !math.IsInf(v, 0) {
		return 0, false
	}
	return v, true
}

// parseSwitch reads the words that loggers write for an on/off input.
func parseSwitch(b []byte) (v float64, ok bool) {
	for _, w := range [...]string{"1", "on", "true", "yes"} {
		if equalFold(b, w) {
			return 1, true
		}
	}
	for _, w := range [...]string{"0", "off", "false", "no"} {
		if equalFold(b, w) {
			return 0, true
		}
	}
	return 0, false
}

// noReading reports the words that loggers write where they have no value.
// Common practice, no source.
func noReading(b []byte) bool {
	for _, w := range [...]string{"n/a", "na", "nan", "null", "none", "-", "--", "---"} {
		if equalFold(b, w) {
			return true
		}
	}
	return false
}

// infinite reports the words for a value beyond all bounds.
func infinite(b []byte) bool {
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		b = b[1:]
	}
	return equalFold(b, "inf") || equalFold(b, "infinity")
}

func equalFold(b []byte, lower string) bool {
	if len(b) != len(lower) {
		return false
	}
	for i, c := range b {
		if c >= 'A' && c <= 'Z' {
			c += 'a' - 'A'
		}
		if c != lower[i] {
			return false
		}
	}
	return true
}

// trim takes spaces and tabs off both ends.
func trim(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t') {
		b = b[:len(b)-1]
	}
	return b
}
