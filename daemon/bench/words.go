package bench

import (
	"math"
	"strconv"

	"headroom/rules/units"
)

// fine writes a value with its unit to four significant digits or more: a
// figure of a test is finer than a reading on the trailer.
func fine(q units.Quantity, s units.System, si float64) string {
	if math.IsNaN(si) || math.IsInf(si, 0) {
		return "--"
	}
	u := units.For(q, s)
	v := u.FromSI(si)
	return strconv.FormatFloat(v, 'f', digits(v, 4), 64) + spaced(u.Symbol)
}

// withU writes a value and its expanded uncertainty to the same place: the
// uncertainty with two significant digits.
// Source: JCGM 100:2008, 7.2.6.
func withU(q units.Quantity, s units.System, si, expanded float64) string {
	if math.IsNaN(si+expanded) || math.IsInf(si+expanded, 0) {
		return "--"
	}
	u := units.For(q, s)
	v, e := u.FromSI(si), math.Abs(u.FromSI(si+expanded)-u.FromSI(si))
	n := digits(e, 2)
	return strconv.FormatFloat(v, 'f', n, 64) + " ± " + strconv.FormatFloat(e, 'f', n, 64) + spaced(u.Symbol)
}

// FormatU writes an interval of the figure for people.
func (f Figure) FormatU(s units.System, si, expanded float64) string {
	return withU(f.Quantity(), s, si*f.perPa(), expanded*f.perPa())
}

func spaced(symbol string) string {
	if symbol == "" {
		return ""
	}
	return " " + symbol
}

// digits is how many decimals show a value with that many significant digits.
func digits(v float64, significant int) int {
	if v == 0 {
		return 1
	}
	n := significant - 1 - int(math.Floor(math.Log10(math.Abs(v))))
	return min(max(n, 0), 6)
}

// Value writes a value with its unit, finer than on the trailer.
func Value(q units.Quantity, s units.System, si float64) string { return fine(q, s, si) }

// Number writes a value without its unit.
func Number(q units.Quantity, s units.System, si float64) string {
	if math.IsNaN(si) || math.IsInf(si, 0) {
		return "--"
	}
	v := units.For(q, s).FromSI(si)
	return strconv.FormatFloat(v, 'f', digits(v, 4), 64)
}

// differenceOf is the quantity of a difference of two values.
func differenceOf(q units.Quantity) units.Quantity {
	if q == units.Temperature {
		return units.TemperatureDifference
	}
	return q
}

// Spread writes a half-width of the figure for people.
func (f Figure) Spread(s units.System, half float64) string {
	u := units.For(differenceOf(f.Quantity()), s)
	v := math.Abs(half * f.perPa() * u.Scale)
	return strconv.FormatFloat(v, 'f', digits(v, 2), 64) + spaced(u.Symbol)
}

// FormatDifference writes a difference of two values of the figure.
func (f Figure) FormatDifference(s units.System, si, expanded float64) string {
	text := withU(differenceOf(f.Quantity()), s, si*f.perPa(), expanded*f.perPa())
	if si > 0 {
		return "+" + text
	}
	return text
}
