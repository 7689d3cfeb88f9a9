package motor_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/circuit/motor"
)

// Source: NFPA 70 (NEC) Table 430.248, through the shared table.
func TestFullLoadAgreesWithTheSharedTable(t *testing.T) {
	for _, r := range readCSV(t, "nec_430_248.csv") {
		top, bottom, split := strings.Cut(r[0], "/")
		hp := num(t, top)
		if split {
			hp /= num(t, bottom)
		}
		for col, volts := range []float64{115, 200, 208, 230} {
			got, ok := motor.FullLoadA(hp*motor.WPerHP, volts)
			require.True(t, ok)
			require.InDelta(t, num(t, r[col+1]), got, 0, "%s hp at %v V", r[0], volts)
		}
	}
}

func TestPlate(t *testing.T) {
	for _, c := range []struct {
		name    string
		a, w, v float64
		want    motor.Plate
		source  string
	}{
		{"2 hp at its table current", 24, 1491.4, 115, motor.PlatePlausible, "NFPA 70 Table 430.248"},
		{"2 hp, a good motor", 18, 1491.4, 120, motor.PlatePlausible, "common practice, no source"},
		{"an advertised peak of 5 hp on 15 A", 15, 3728.5, 120, motor.PlateTooLow, "common practice, no source"},
		{"230 V current typed for 115 V", 10, 1118.5, 115, motor.PlateTooLow, "NFPA 70 Table 430.248"},
		{"115 V current typed for 230 V", 20, 1118.5, 230, motor.PlateTooHigh, "NFPA 70 Table 430.248"},
		{"a size that the table lacks", 20, 1300, 115, motor.PlateUnknown, "NFPA 70 Table 430.248"},
		{"a voltage that the table lacks", 20, 1118.5, 150, motor.PlateUnknown, "NFPA 70 Table 430.248"},
		{"no current", 0, 1118.5, 115, motor.PlateUnknown, "rule of the house"},
	} {
		share, got := motor.CheckPlate(c.a, c.w, c.v)
		require.Equal(t, c.want.String(), got.String(), "%s (%s)", c.name, c.source)
		require.Equal(t, got == motor.PlateUnknown, share == 0)
	}
}
