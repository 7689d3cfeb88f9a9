package units

import (
	"math"
	"strconv"
	"strings"
)

// Number returns a value as people read it, without its unit. A value that
// isn't finite gives "--", never a number.
func Number(q Quantity, s System, si float64) string {
	if math.IsNaN(si) || math.IsInf(si, 0) {
		return "--"
	}
	u := pick(q, s, si)
	out := strconv.FormatFloat(u.FromSI(si), 'f', u.Decimals, 64)
	if strings.Trim(out, "-0.") == "" {
		out = strings.TrimPrefix(out, "-") // no "-0"
	}
	return out
}

// Format returns a value with its unit, for example "41.3 psi". A switch gives
// "on" or "off", a long duration "2 min 05 s".
func Format(q Quantity, s System, si float64) string {
	switch {
	case math.IsNaN(si) || math.IsInf(si, 0):
		return "--"
	case q == Switch && si >= 0.5:
		return "on"
	case q == Switch:
		return "off"
	case q == Duration:
		return formatDuration(si)
	}
	n := Number(q, s, si)
	sym := pick(q, s, si).Symbol
	if sym == "" {
		return n
	}
	if sym == "%" {
		return n + " %"
	}
	return n + " " + sym
}

func formatDuration(s float64) string {
	sign := ""
	if s < 0 {
		sign, s = "-", -s
	}
	switch {
	case s < 10:
		return sign + strconv.FormatFloat(s, 'f', 1, 64) + " s"
	case s < 120:
		return sign + strconv.FormatFloat(s, 'f', 0, 64) + " s"
	case s < 7200:
		r := int64(math.Floor(s + 0.5))
		return sign + strconv.FormatInt(r/60, 10) + " min " + pad2(r%60) + " s"
	}
	r := int64(math.Floor(s/60 + 0.5))
	return sign + strconv.FormatInt(r/60, 10) + " h " + pad2(r%60) + " min"
}

func pad2(n int64) string {
	if n < 10 {
		return "0" + strconv.FormatInt(n, 10)
	}
	return strconv.FormatInt(n, 10)
}
