package units_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/units"
)

func TestParse(t *testing.T) {
	for _, c := range []struct {
		q      units.Quantity
		text   string
		want   float64
		source string
	}{
		{units.Pressure, "100 psi", 689475.729, "NIST SP 811: 1 psi = 6894.757 Pa"},
		{units.Pressure, "-5 inHg", -16931.945, "NIST SP 811: 1 inHg = 3386.389 Pa"},
		{units.Temperature, "140 °F", 333.15, "definition: 140 °F = 60 °C"},
		{units.Temperature, "60°C", 333.15, "definition"},
		{units.FlowRate, "1 gpm", 6.30901964e-5, "NIST SP 811: 1 gal/min = 6.309020 E-05 m3/s"},
		{units.Power, "1 hp", 745.69987, "NIST SP 811: horsepower (550 ft lbf/s) = 745.6999 W"},
		{units.Volume, "1 gal", 3.785411784e-3, "NIST SP 811: gallon (US) = 3.785412 E-03 m3"},
		{units.Bore, "3/4 in", 0, ""},
		{units.FlowRate, "4,1 gpm", 0, ""},
		{units.Fraction, "80 %", 0.8, "definition"},
		{units.Fraction, "0.8", 0.8, "definition"},
		{units.Acceleration, "1 g", 9.80665, "standard gravity"},
		{units.Duration, "2 min", 120, "definition"},
		{units.Speed, "1800 rpm", 30, "definition"},
	} {
		v, err := units.Parse(c.q, c.text)
		if c.source == "" {
			require.Error(t, err, c.text)
			continue
		}
		require.NoError(t, err, c.text)
		require.InEpsilon(t, c.want, v, 2e-7, c.text)
	}
}

func TestParseErrorsNameTheMend(t *testing.T) {
	for text, part := range map[string]string{
		"100":      "has no unit",
		"abc":      "does not start with a number",
		"100 foo":  "is not one of",
		"":         "does not start with a number",
		"1e999 Pa": "does not start with a number",
	} {
		_, err := units.Parse(units.Pressure, text)
		require.ErrorContains(t, err, part, text)
	}
}

func TestFormat(t *testing.T) {
	for _, c := range []struct {
		q    units.Quantity
		s    units.System
		si   float64
		want string
	}{
		{units.Pressure, units.US, 689475.729, "100.0 psi"},
		{units.Pressure, units.SI, 689475.729, "689 kPa"},
		{units.Pressure, units.SI, 9e6, "9.00 MPa"},
		{units.Pressure, units.US, 9e6, "1305 psi"},
		{units.Pressure, units.SI, -0.1, "0 kPa"},
		{units.Temperature, units.US, 333.15, "140 °F"},
		{units.Fraction, units.SI, 0.8, "80 %"},
		{units.Duration, units.SI, 4.25, "4.2 s"},
		{units.Duration, units.SI, 125, "2 min 05 s"},
		{units.Duration, units.SI, 7260, "2 h 01 min"},
		{units.Switch, units.SI, 1, "on"},
		{units.FlowRate, units.SI, math.NaN(), "--"},
	} {
		require.Equal(t, c.want, units.Format(c.q, c.s, c.si))
	}
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := units.Quantity(rapid.IntRange(1, 17).Draw(t, "quantity"))
		s := units.System(rapid.IntRange(0, 1).Draw(t, "system"))
		v := rapid.Float64Range(-1e7, 1e7).Draw(t, "si")
		u := units.For(q, s)
		require.InDelta(t, v, u.ToSI(u.FromSI(v)), 1e-6)
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"100 psi", "60 °C", "-1e3 Pa", "1e", "e5", "NaN psi", "  7   bar "} {
		f.Add(s, uint8(1))
	}
	f.Fuzz(func(t *testing.T, s string, q uint8) {
		v, err := units.Parse(units.Quantity(q%18), s)
		if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
			t.Fatalf("%q gave %v without an error", s, v)
		}
	})
}
