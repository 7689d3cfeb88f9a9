package config

import (
	"math"
	"strconv"
	"strings"

	"headroom/rules/detmath"
)

// splitNumber cuts a text into its leading number and what follows, as
// units.Parse does.
func splitNumber(text string) (number, symbol string) {
	t := strings.TrimSpace(text)
	end := 0
	for end < len(t) && strings.IndexByte("+-.0123456789eE", t[end]) >= 0 {
		end++
	}
	for end > 0 && (t[end-1] == 'e' || t[end-1] == 'E') {
		end--
	}
	return t[:end], strings.TrimSpace(t[end:])
}

// wireArea reads a conductor's size, "12 AWG" or "2.5 mm2", into m2. ok is
// false for anything else, and beyond 20 AWG to 0 AWG or 0.5 to 60 mm2, which
// no cord for a jetter is.
// Source: ASTM B258, diameter 0.005 in x 92^((36-n)/39).
func wireArea(text string) (areaM2 float64, ok bool) {
	number, symbol := splitNumber(text)
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return 0, false
	}
	switch symbol {
	case "AWG":
		if !(v >= 0 && v <= 20) || v != math.Floor(v) {
			return 0, false
		}
		d := 127e-6 * detmath.Pow(92, (36-v)/39)
		return math.Pi / 4 * d * d, true
	case "mm2", "mm²":
		return v * 1e-6, v >= 0.5 && v <= 60
	}
	return 0, false
}

// byteUnits are powers of ten, as disks and cards are sold.
var byteUnits = []struct {
	symbol string
	bytes  float64
}{{"MB", 1e6}, {"GB", 1e9}, {"TB", 1e12}}

// byteSize reads a size such as "2 GB" into bytes; ok is false for anything
// else, and beyond 1 MB to 100 TB.
func byteSize(text string) (int64, bool) {
	number, symbol := splitNumber(text)
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return 0, false
	}
	for _, u := range byteUnits {
		if u.symbol == symbol && v*u.bytes >= 1e6 && v*u.bytes <= 1e14 {
			return int64(v * u.bytes), true
		}
	}
	return 0, false
}
