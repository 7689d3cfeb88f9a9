package main

import (
	"bytes"
	"context"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors"
	"headroom/sensors/calibrate"
)

var updateHardware = flag.Bool("update-hardware", false, "rewrite the golden files of the hardware commands")

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *updateHardware {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(want), got)
}

func TestScanBelowARoot(t *testing.T) {
	root := t.TempDir()
	for _, f := range []string{"dev/i2c-1", "sys/bus/w1/devices/28-000000123456/w1_slave", "dev/ttyUSB0"} {
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(root, f)), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(root, f), nil, 0o644))
	}
	code, out, errs := call(t, "scan", "-root", root)
	require.Equal(t, exitOK, code, errs)
	golden(t, "scan.txt", out)
	_, proposal, _ := strings.Cut(out, "# A config to begin with:\n")
	code, out, _ = call(t, "check", write(t, "proposal.toml", proposal))
	require.Equal(t, exitOK, code, out)
}

func TestCheckKnowsTheDrivers(t *testing.T) {
	code, out, _ := call(t, "check", "../testdata/config/good/sensors-trailer.toml")
	require.Equal(t, exitOK, code, out)
	code, out, _ = call(t, "check", write(t, "my.toml", "[simulator]\non = false\n[[sensors.adc]]\nbus = \"i2c-1\"\naddress = \"0x48\"\ninput = \"AIN0\"\n"+
		"kind = \"voltage\"\nhigh = \"10 V\"\nchannel = \"outlet_pressure\"\nat_low = \"0 bar\"\nat_high = \"100 bar\"\n"))
	require.Equal(t, exitError, code)
	require.Contains(t, out, "[[sensors.adc]] on line 3")
	require.Contains(t, out, "attenuation")
}

func TestLiveOnTheSimulator(t *testing.T) {
	code, out, errs := call(t, "live", "-once")
	require.Equal(t, exitOK, code, errs)
	require.Regexp(t, `(?m)^CHANNEL +RAW +VALUE +UNIT +STATUS +REASON$`, out)
	require.Regexp(t, `(?m)^inlet_pressure +- +\d+\.\d +psi +good`, out)
	require.Regexp(t, `(?m)^power_present +- +on +- +good`, out)
	require.NotContains(t, out, "tank_level", "not fitted")
}

const oneThermometer = `
[simulator]
on = false
[[sensors.thermometer]]
serial = "28-000000123456"
channel = "water_temp"
[[sensors.adc]]
bus = "i2c-250"
address = "0x48"
input = "AIN0"
kind = "loop_4_20"
shunt = "100 ohm"
channel = "inlet_pressure"
at_low = "0 psi"
at_high = "100 psi"
`

// On a machine without the parts every channel says what is wrong and none
// shows a number.
func TestLiveWithoutTheParts(t *testing.T) {
	code, out, errs := call(t, "live", "-once", "-record", t.TempDir(), "-config", write(t, "my.toml", oneThermometer))
	require.Equal(t, exitError, code)
	require.Contains(t, errs, "2 of 2 channels are not good")
	require.Regexp(t, `(?m)^water_temp +- +-- +°F +failed +\S+`, out)
	require.Regexp(t, `(?m)^inlet_pressure +- +-- +psi +failed +.*cannot open i2c-250`, out)
}

func TestLiveFollowsUntilItIsEnded(t *testing.T) {
	ctx, cancel := context.WithTimeout(t.Context(), 1500*time.Millisecond)
	defer cancel()
	var out, errs bytes.Buffer
	require.Equal(t, exitOK, run(ctx, []string{"live"}, stdio{strings.NewReader(""), &out, &errs}), errs.String())
	require.Contains(t, out.String(), "no rule has judged them")
	require.NotContains(t, out.String(), "\x1b", "a file is no screen")
}

// With sensors in the config the daemon runs them, and not faster than life.
func TestRunWithSensors(t *testing.T) {
	cfg := write(t, "my.toml", oneThermometer)
	ctx, cancel := context.WithTimeout(t.Context(), 1500*time.Millisecond)
	defer cancel()
	var out, errs bytes.Buffer
	code := run(ctx, []string{"-config", cfg, "-record", t.TempDir(), "-listen", "127.0.0.1:0"}, stdio{strings.NewReader(""), &out, &errs})
	require.Equal(t, exitOK, code, errs.String())
	require.NotContains(t, out.String(), "simulated")
	require.Contains(t, errs.String(), "1-wire thermometers")

	code, _, e := call(t, "-config", cfg, "-no-record", "-listen", "127.0.0.1:0", "-speed", "10")
	require.Equal(t, exitError, code)
	require.Contains(t, e, "faster than life")
}

// still is a sensor that reads 1 kPa too low, with a little noise, at the
// pressure the bench gives.
type still struct{ benchPa []float64 }

func (still) Name() string              { return "bench" }
func (still) Channels() []frame.Channel { return []frame.Channel{frame.InletPressure} }
func (s still) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	for i := 0; ctx.Err() == nil; i++ {
		time.Sleep(97 * time.Millisecond)  // never at the same instant as the display or what is typed
		noise := float64(i*7919%41-20) * 5 // a fixed sequence within 100 Pa
		bench := s.benchPa[min(i/40, len(s.benchPa)-1)]
		post(sensors.Reading{Channel: frame.InletPressure, Sample: frame.Sample{Value: bench - 1000 + noise, Status: frame.Good}, At: clock()})
	}
	return nil
}

func newTalk(t *testing.T, typed string, out *bytes.Buffer, store *calibrate.Store, before *calibrate.Calibration) *talk {
	d, err := calibrate.Begin(calibrate.Setup{Channel: frame.InletPressure, Tolerance: 200, Before: before})
	require.NoError(t, err)
	return &talk{io: stdio{strings.NewReader(typed), out, out}, ch: frame.InletPressure, system: units.SI, dialogue: d, store: store, days: 365, before: before, now: time.Now}
}

func TestCalibrateZero(t *testing.T) {
	store, err := calibrate.NewStore(t.TempDir())
	require.NoError(t, err)
	var out bytes.Buffer
	synctest.Test(t, func(t *testing.T) {
		typed := "zreo\nzero\nabc\n150\nback\nzero\n200 kPa\nA. Tester\ndead-weight tester\n\nyes\n"
		require.NoError(t, newTalk(t, typed, &out, store, nil).run(t.Context(), still{[]float64{200e3}}))
	})
	golden(t, "calibrate_zero.txt", out.String())
	c, err := store.Latest(frame.InletPressure)
	require.NoError(t, err)
	require.Equal(t, calibrate.Zero, c.Method)
	require.Equal(t, "A. Tester", c.Who)
	v, ok := c.Apply(99e3)
	require.True(t, ok)
	require.InDelta(t, 100e3, v, 50, "by hand: the sensor reads 1 kPa low")
}

func TestCalibrateTwoPointsAfterAnOlderOne(t *testing.T) {
	store, err := calibrate.NewStore(t.TempDir())
	require.NoError(t, err)
	before := &calibrate.Calibration{Channel: "inlet_pressure", Method: calibrate.Zero, Margin: 1e6, Who: "B. Tester", ValidDays: 100,
		Date: time.Date(2025, 6, 1, 0, 0, 0, 0, time.UTC), Points: []calibrate.Point{{Raw: 0, Reference: 2000}}}
	var out bytes.Buffer
	synctest.Test(t, func(t *testing.T) {
		typed := "two-point\n0\n4 bar\nA. Tester\n\nafter the rebuild\nyes\n"
		require.NoError(t, newTalk(t, typed, &out, store, before).run(t.Context(), still{[]float64{0, 400e3}}))
	})
	golden(t, "calibrate_two_point.txt", out.String())
	c, err := store.Latest(frame.InletPressure)
	require.NoError(t, err)
	require.Len(t, c.Points, 2)
	require.InDelta(t, 1000, c.Points[0].AsFound, 50, "the older one made 1 kPa of nothing")
}

func TestCalibrationGivenUpChangesNothing(t *testing.T) {
	for _, typed := range []string{"cancel\n", "zero\n5\ncancel\n", "zero\n200 kPa\nme\n\n\nno\n", ""} {
		store, err := calibrate.NewStore(t.TempDir())
		require.NoError(t, err)
		synctest.Test(t, func(t *testing.T) {
			var out bytes.Buffer
			require.ErrorIs(t, newTalk(t, typed, &out, store, nil).run(t.Context(), still{[]float64{200e3}}), errGivenUp)
		})
		c, err := store.Latest(frame.InletPressure)
		require.NoError(t, err)
		require.Nil(t, c)
	}
}

func TestPracticeSavesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		require.NoError(t, newTalk(t, "none\nme\n\n\nyes\n", &out, nil, nil).run(t.Context(), still{[]float64{0}}))
		require.Contains(t, out.String(), "nothing was saved")
	})
}

func TestCalibrateLists(t *testing.T) {
	folder := t.TempDir()
	dir := filepath.Join(folder, "calibrations")
	store, err := calibrate.NewStore(dir)
	require.NoError(t, err)
	require.NoError(t, store.Append(calibrate.Calibration{Channel: "inlet_pressure", Method: calibrate.Zero, Margin: 1e6, Who: "A. Tester", Instrument: "gauge 3",
		ValidDays: 1, Date: time.Date(2025, 6, 1, 0, 0, 0, 0, time.UTC), Points: []calibrate.Point{{Raw: 0, Reference: 2000, AsLeft: 2000}}}))
	code, out, errs := call(t, "calibrate", "-list", "-record", folder)
	require.Equal(t, exitOK, code, errs)
	require.Contains(t, out, "inlet_pressure   2025-06-01  zero      until 2025-06-02  by A. Tester with gauge 3  (calibration of 2025-06-01 is out of date")
	code, out, errs = call(t, "calibrate", "inlet_pressure", "-history", "-record", folder)
	require.Equal(t, exitOK, code, errs)
	require.Regexp(t, `1 +0\.000 +0\.290 +0\.000 +0\.290 +psi`, out)
	require.NoError(t, os.WriteFile(store.File(frame.InletPressure), []byte("torn\n"), 0o644))
	code, _, errs = call(t, "calibrate", "inlet_pressure", "-record", folder)
	require.Equal(t, exitError, code)
	require.Contains(t, errs, "-repair")
	code, out, _ = call(t, "calibrate", "inlet_pressure", "-repair", "-record", folder)
	require.Equal(t, exitOK, code)
	require.Contains(t, out, "is kept as")

	for want, args := range map[string][]string{
		"name one of inlet_pressure":  {"calibrate", "running", "-record", folder},
		"nothing in the config feeds": {"calibrate", "tank_level", "-record", folder},
		"cannot use the tolerance":    {"calibrate", "inlet_pressure", "-tolerance", "3", "-record", folder},
	} {
		code, _, errs = call(t, args...)
		require.Equal(t, exitError, code)
		require.Contains(t, errs, want)
	}
}
