package bench

import (
	"math"
	"strconv"

	"headroom/rules/units"
)

// smallFlowM3s is below what a flow is told in millilitres: a leak is caught in
// a cup and counted so, in either system.
const smallFlowM3s = 0.1e-3 / 60

// millilitres a minute.
var mLMin = units.Unit{Symbol: "mL/min", Scale: 60e6, Decimals: 1}

// unitFor is the unit that a value is told in.
func unitFor(q units.Quantity, s units.System, si float64) units.Unit {
	if q == units.FlowRate && si != 0 && math.Abs(si) < smallFlowM3s {
		return mLMin
	}
	return units.For(q, s)
}

// fine writes a value with its unit to four significant digits or more: a
// figure of a test is finer than a reading on the trailer.
func fine(q units.Quantity, s units.System, si float64) string {
	return told(unitFor(q, s, si), si, 4)
}

func told(u units.Unit, si float64, significant int) string {
	if math.IsNaN(si) || math.IsInf(si, 0) {
		return "--"
	}
	v := u.FromSI(si)
	return strconv.FormatFloat(v, 'f', digits(v, significant), 64) + spaced(u.Symbol)
}

// both writes a value in SI and in US units, for sentences that are kept before
// anybody says which they read.
func both(q units.Quantity, si float64) string {
	inSI, inUS := fine(q, units.SI, si), fine(q, units.US, si)
	if inSI == inUS {
		return inSI
	}
	return inSI + " (" + inUS + ")"
}

// withU writes a value and its expanded uncertainty to the same place: the
// uncertainty with two significant digits.
// Source: JCGM 100:2008, 7.2.6.
func withU(u units.Unit, si, expanded float64) string {
	if math.IsNaN(si+expanded) || math.IsInf(si+expanded, 0) {
		return "--"
	}
	v, e := u.FromSI(si), math.Abs(u.FromSI(si+expanded)-u.FromSI(si))
	n := digits(e, 2)
	return strconv.FormatFloat(v, 'f', n, 64) + " ± " + strconv.FormatFloat(e, 'f', n, 64) + spaced(u.Symbol)
}

// Told writes what a person told, with no more digits than the limits of its
// error leave.
func Told(q units.Quantity, s units.System, si, half float64) string {
	u := unitFor(q, s, si)
	v, e := u.FromSI(si), math.Abs(half*u.Scale)
	n := digits(e, 2)
	if r := strconv.FormatFloat(e, 'f', n, 64); n > 0 && r[len(r)-1] == '0' {
		n-- // 0.10 is 0.1
	}
	return strconv.FormatFloat(v, 'f', n, 64) + spaced(u.Symbol) + ", off by at most " + strconv.FormatFloat(e, 'f', n, 64) + spaced(u.Symbol)
}

// Unit is what the figure is told in, as a value or as a difference of two.
func (f Figure) Unit(s units.System) units.Unit {
	switch f {
	case PackingLeak:
		return mLMin
	case CurrentSlope: // A/Pa inside
		if s == units.US {
			return units.Unit{Symbol: "A/1000 psi", Scale: 1000 / units.For(units.Pressure, units.US).Scale, Decimals: 2}
		}
		return units.Unit{Symbol: "A/MPa", Scale: 1e6, Decimals: 2}
	}
	return units.For(f.Quantity(), s)
}

func (f Figure) differenceUnit(s units.System) units.Unit {
	if f.Quantity() == units.Temperature {
		return units.For(units.TemperatureDifference, s)
	}
	return f.Unit(s)
}

// Format writes a value of the figure for people.
func (f Figure) Format(s units.System, si float64) string { return told(f.Unit(s), si, 4) }

// FormatU writes an interval of the figure for people.
func (f Figure) FormatU(s units.System, si, expanded float64) string {
	return withU(f.Unit(s), si, expanded)
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

// Spread writes a half-width of the figure for people.
func (f Figure) Spread(s units.System, half float64) string {
	u := f.differenceUnit(s)
	v := math.Abs(half * u.Scale)
	return strconv.FormatFloat(v, 'f', digits(v, 2), 64) + spaced(u.Symbol)
}

// FormatDifference writes a difference of two values of the figure.
func (f Figure) FormatDifference(s units.System, si, expanded float64) string {
	text := withU(f.differenceUnit(s), si, expanded)
	if si > 0 {
		return "+" + text
	}
	return text
}
