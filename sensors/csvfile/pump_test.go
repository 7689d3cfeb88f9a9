package csvfile_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/csvfile"
)

// pumpMap maps the public recordings of a small pump loop: Skoltech Anomaly
// Benchmark v0.9 (2020), DOI 10.34740/KAGGLE/DSV/1693952.
func pumpMap(t testing.TB) csvfile.Map {
	return csvfile.Map{
		Delimiter: ';',
		Time:      csvfile.TimeColumn{Column: "datetime", Format: "YYYY-MM-DD hh:mm:ss"},
		Columns: []csvfile.Column{
			{Name: "Accelerometer1RMS", Channel: frame.Vibration, Unit: unit(t, units.Acceleration, "g")},
			{Name: "Accelerometer2RMS", Channel: frame.Vibration2, Unit: unit(t, units.Acceleration, "g")},
			{Name: "Current", Channel: frame.MotorCurrent, Unit: unit(t, units.Current, "A")},
			{Name: "Pressure", Channel: frame.OutletPressure, Unit: unit(t, units.Pressure, "bar")},
			{Name: "Temperature", Channel: frame.MotorTemp, Unit: unit(t, units.Temperature, "°C")},
			{Name: "Thermocouple", Channel: frame.WaterTemp, Unit: unit(t, units.Temperature, "°C")},
			{Name: "Voltage", Channel: frame.SupplyVoltage, Unit: unit(t, units.Voltage, "V")},
			{Name: "Volume Flow RateRMS", Channel: frame.Flow, Unit: unit(t, units.FlowRate, "l/min")},
		},
	}
}

// TestPumpRecordings reads every public recording to its last row. Each line
// after the header must become a frame with eight good channels; the first row
// of the healthy one is checked against the file by hand.
func TestPumpRecordings(t *testing.T) {
	root := testneed.Shared(t, "pump-data")
	files, err := filepath.Glob(filepath.Join(root, "*", "*.csv"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, name := range files {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		g, _ := readAll(t, bytes.NewReader(text), pumpMap(t))
		require.Empty(t, g.problems, name)
		require.Len(t, g.frames, bytes.Count(text, []byte("\n"))-1, name)
		for i := range g.frames {
			for _, c := range g.frames[i].Samples {
				require.True(t, c.OK() || c.Status == frame.NotFitted)
			}
		}
	}
	in, err := os.Open(filepath.Join(root, "healthy", "anomaly-free.csv"))
	require.NoError(t, err)
	defer in.Close()
	g, _ := readAll(t, in, pumpMap(t))
	require.Len(t, g.frames, 9405, "as the data's description says")
	s := &g.frames[0].Samples
	require.InEpsilon(t, 38263.8, s[frame.OutletPressure].Value, 1e-9)
	require.InEpsilon(t, 26.8508+273.15, s[frame.WaterTemp].Value, 1e-9)
	require.InEpsilon(t, 122.664/60000, s[frame.Flow].Value, 1e-9)
	require.InEpsilon(t, 0.202394*9.80665, s[frame.Vibration].Value, 1e-9)
	require.Equal(t, time.Date(2020, 2, 8, 13, 30, 47, 0, time.UTC), g.wall[0])
	require.Equal(t, time.Second, g.t[1])
}
