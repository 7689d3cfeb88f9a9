package units

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// written is every unit a config or a column map may use, by symbol.
var written = []struct {
	quantity Quantity
	unit     Unit
}{
	{Pressure, Unit{"Pa", 1, 0, 0}},
	{Pressure, Unit{"kPa", 1e-3, 0, 0}},
	{Pressure, Unit{"MPa", 1e-6, 0, 2}},
	{Pressure, Unit{"bar", 1e-5, 0, 2}},
	{Pressure, Unit{"mbar", 1e-2, 0, 0}},
	{Pressure, Unit{"hPa", 1e-2, 0, 0}},
	{Pressure, Unit{"psi", 1 / PascalPerPsi, 0, 1}},
	{Pressure, Unit{"inHg", 1 / 3386.389, 0, 2}}, // NIST SP 811: inch of mercury, conventional
	{Temperature, Unit{"K", 1, 0, 1}},
	{Temperature, Unit{"°C", 1, -celsius0K, 1}},
	{Temperature, Unit{"C", 1, -celsius0K, 1}},
	{Temperature, Unit{"°F", 1.8, -fahrenheit0K, 0}},
	{Temperature, Unit{"F", 1.8, -fahrenheit0K, 0}},
	{FlowRate, Unit{"m3/s", 1, 0, 6}},
	{FlowRate, Unit{"m3/h", 3600, 0, 2}},
	{FlowRate, Unit{"L/min", litrePerM3 * secondsPerMin, 0, 1}},
	{FlowRate, Unit{"l/min", litrePerM3 * secondsPerMin, 0, 1}},
	{FlowRate, Unit{"L/s", litrePerM3, 0, 3}},
	{FlowRate, Unit{"gpm", secondsPerMin / M3PerGallon, 0, 2}},
	{Current, Unit{"A", 1, 0, 1}},
	{Current, Unit{"mA", 1e3, 0, 0}},
	{Speed, Unit{"rpm", secondsPerMin, 0, 0}},
	{Speed, Unit{"1/s", 1, 0, 1}},
	{Speed, Unit{"Hz", 1, 0, 1}},
	{Voltage, Unit{"V", 1, 0, 0}},
	{Acceleration, Unit{"m/s2", 1, 0, 2}},
	{Acceleration, Unit{"m/s²", 1, 0, 2}},
	{Acceleration, Unit{"g", 1 / StandardGravityMS2, 0, 3}},
	{Fraction, Unit{"%", 100, 0, 0}},
	{Head, Unit{"m", 1, 0, 1}},
	{Head, Unit{"ft", 1 / metrePerFoot, 0, 1}},
	{Length, Unit{"m", 1, 0, 1}},
	{Length, Unit{"mm", 1e3, 0, 0}},
	{Length, Unit{"cm", 1e2, 0, 0}},
	{Length, Unit{"ft", 1 / metrePerFoot, 0, 0}},
	{Length, Unit{"in", 1 / MetrePerInch, 0, 2}},
	{Bore, Unit{"mm", 1e3, 0, 1}},
	{Bore, Unit{"m", 1, 0, 4}},
	{Bore, Unit{"in", 1 / MetrePerInch, 0, 3}},
	{Duration, Unit{"s", 1, 0, 1}},
	{Duration, Unit{"ms", 1e3, 0, 0}},
	{Duration, Unit{"min", 1 / secondsPerMin, 0, 1}},
	{Duration, Unit{"h", 1.0 / 3600, 0, 2}},
	{Power, Unit{"W", 1, 0, 0}},
	{Power, Unit{"kW", 1e-3, 0, 2}},
	{Power, Unit{"hp", 1 / wattPerHp, 0, 2}},
	{Volume, Unit{"m3", 1, 0, 3}},
	{Volume, Unit{"L", litrePerM3, 0, 1}},
	{Volume, Unit{"l", litrePerM3, 0, 1}},
	{Volume, Unit{"mL", 1e6, 0, 0}},
	{Volume, Unit{"cm3", 1e6, 0, 1}},
	{Volume, Unit{"gal", 1 / M3PerGallon, 0, 2}},
	{Volume, Unit{"in3", 1 / (MetrePerInch * MetrePerInch * MetrePerInch), 0, 2}},
	{Energy, Unit{"kWh", 1 / joulePerKWh, 0, 2}},
	{TemperatureDifference, Unit{"K", 1, 0, 1}},
	{TemperatureDifference, Unit{"°C", 1, 0, 1}},
	{TemperatureDifference, Unit{"°F", 1.8, 0, 1}},
	{Resistance, Unit{"ohm", 1, 0, 1}},
	{Resistance, Unit{"kohm", 1e-3, 0, 3}},
	{Resistance, Unit{"Mohm", 1e-6, 0, 3}},
	{Resistance, Unit{"Ω", 1, 0, 1}},
	{Resistance, Unit{"kΩ", 1e-3, 0, 3}},
}

// Symbols returns the units a quantity may be written in, for error messages.
func Symbols(q Quantity) []string {
	var out []string
	for _, w := range written {
		if w.quantity == q {
			out = append(out, w.unit.Symbol)
		}
	}
	return out
}

// Lookup returns the unit with that symbol for a quantity. Fraction and None
// and Switch also take the empty symbol, for a bare number.
func Lookup(q Quantity, symbol string) (Unit, bool) {
	if symbol == "" && (q == Fraction || q == None || q == Switch) {
		return Unit{Scale: 1}, true
	}
	for _, w := range written {
		if w.quantity == q && w.unit.Symbol == symbol {
			return w.unit, true
		}
	}
	return Unit{}, false
}

// Parse reads a number with its unit, for example "100 psi", and returns it in
// SI. The error says what is wrong and which units are allowed.
func Parse(q Quantity, text string) (float64, error) {
	t := strings.TrimSpace(text)
	end := 0
	for end < len(t) && strings.IndexByte("+-.0123456789eE", t[end]) >= 0 {
		end++
	}
	// "5 e" cannot be: an exponent needs digits, so give a trailing e back.
	for end > 0 && (t[end-1] == 'e' || t[end-1] == 'E') {
		end--
	}
	v, err := strconv.ParseFloat(t[:end], 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q does not start with a number; write for example %s", text, example(q))
	}
	symbol := strings.TrimSpace(t[end:])
	if strings.HasPrefix(symbol, ",") {
		return 0, fmt.Errorf("%q has a comma in its number; write decimals with a point and thousands without a sign", text)
	}
	u, ok := Lookup(q, symbol)
	if !ok && symbol == "" {
		return 0, fmt.Errorf("%q has no unit; write one of %s, for example %s", text, strings.Join(Symbols(q), ", "), example(q))
	}
	if !ok {
		return 0, fmt.Errorf("%q: the unit %q is not one of %s", text, symbol, strings.Join(Symbols(q), ", "))
	}
	si := u.ToSI(v)
	if math.IsInf(si, 0) {
		return 0, fmt.Errorf("%q is too large for any machine", text)
	}
	return si, nil
}

func example(q Quantity) string {
	s := Symbols(q)
	if len(s) == 0 {
		return `"1"`
	}
	return `"10 ` + s[0] + `"`
}
