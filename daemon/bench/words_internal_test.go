package bench

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/units"
)

func TestUnitsOfTheTrade(t *testing.T) {
	for _, c := range []struct{ got, want, source string }{
		{PackingLeak.FormatU(units.US, 25.9e-9, 1.7e-9), "1.55 ± 0.10 mL/min", "1 mL/min = 1.6667e-8 m3/s; a leak is counted in millilitres: common practice, no source"},
		{PackingLeak.FormatU(units.SI, 25.9e-9, 1.7e-9), "1.55 ± 0.10 mL/min", "the same"},
		{Value(units.FlowRate, units.US, 25.9e-9), "1.554 mL/min", "small flows"},
		{Value(units.FlowRate, units.US, 7.6e-3/60), "2.008 gpm", "NIST SP 811: 1 gal/min = 6.309020e-5 m3/s"},
		{Told(units.FlowRate, units.US, 25.9e-9, 1.7e-9), "1.6 mL/min, off by at most 0.1 mL/min", "no more digits than were told"},
		{Told(units.Pressure, units.US, 8.963e6, 6895), "1300 psi, off by at most 1 psi", "NIST SP 811: 1 psi = 6894.757 Pa"},
		{CurrentSlope.FormatU(units.SI, 0.964e-6, 0.011e-6), "0.964 ± 0.011 A/MPa", ""},
		{CurrentSlope.FormatU(units.US, 0.964e-6, 0.011e-6), "6.647 ± 0.076 A/1000 psi", "1000 psi = 6.894757 MPa"},
		{both(units.Pressure, 406.9e3), "406.9 kPa (59.02 psi)", ""},
		{both(units.Current, 3), "3.000 A", "the same in both"},
	} {
		require.Equal(t, c.want, c.got, c.source)
	}
}

func TestATestIsNotComparedWithItself(t *testing.T) {
	r := &Record{ID: "x"}
	require.ErrorContains(t, Distinct(r, r), "the same test")
}
