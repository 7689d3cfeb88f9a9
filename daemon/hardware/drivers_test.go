package hardware

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/deploy/testneed"
	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/calibrate"
	"headroom/sensors/gpiochip/gpiofake"
)

func parse(t *testing.T, text string) *config.Config {
	cfg, problems := config.Parse("test.toml", []byte(text))
	require.Empty(t, config.Mistakes(problems))
	return cfg
}

const oneLoop = `
[simulator]
on = false
[[sensors.adc]]
bus = "i2c-1"
address = "0x48"
input = "AIN2"
kind = "loop_4_20"
channel = "inlet_pressure"
shunt = "100 ohm"
at_low = "0 kPa"
at_high = "1600 kPa"
`

// muxAIN2 are the bits MUX[2:0] of that pin, from the data sheet.
const muxAIN2 = 0b110

// plugged is a board with drivers that a supervisor keeps running.
type plugged struct {
	board *sensors.Board
	set   *Set
	clock func() time.Duration
}

func run(t *testing.T, e Env, cfg *config.Config, cal *Calibrations) *plugged {
	set, err := e.Build(cfg, cal)
	require.NoError(t, err)
	p := &plugged{board: sensors.NewBoard(cfg.Stale), set: set, clock: clockFrom(time.Now())}
	sup := &sensors.Supervisor{Board: p.board, Clock: p.clock, Log: slog.New(slog.DiscardHandler)}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{}, len(set.Drivers))
	for _, d := range set.Drivers {
		go func() { sup.Run(ctx, d); done <- struct{}{} }()
	}
	t.Cleanup(func() {
		cancel()
		for range set.Drivers {
			<-done
		}
	})
	return p
}

func (p *plugged) sample(ch frame.Channel) (frame.Sample, string) {
	var f frame.Frame
	p.board.Frame(p.clock(), &f)
	return f.Samples[ch], p.board.Notes()[ch]
}

func (p *plugged) await(t *testing.T, ch frame.Channel, want frame.Status) (frame.Sample, string) {
	require.Eventually(t, func() bool { s, _ := p.sample(ch); return s.Status == want }, 10*time.Second, 10*time.Millisecond, "%s should become %s", ch, want)
	return p.sample(ch)
}

func TestEveryPartOfTheExampleIsBuilt(t *testing.T) {
	path := filepath.Join(testneed.Root(t), "testdata", "config", "good", "sensors-trailer.toml")
	cfg, err := config.Load(path)
	require.NoError(t, err)
	require.NoError(t, Check(cfg))
	set, err := Env{Lines: gpiofake.New()}.Build(cfg, nil)
	require.NoError(t, err)
	require.Len(t, set.Drivers, 5, "one a bus, line or port")
	var fed [frame.NumChannels]bool
	for _, d := range set.Drivers {
		for _, ch := range d.Channels() {
			fed[ch] = true
		}
	}
	for ch := range frame.NumChannels {
		require.Equal(t, cfg.Engine.Signals[ch].Fitted, fed[ch], "%s is fitted because it is fed", ch)
	}
	require.Equal(t, "0 pulses", set.Raw(frame.Flow))
	require.Empty(t, set.Raw(frame.InletPressure), "nothing was read yet")
	require.Empty(t, set.Raw(frame.NumChannels))
}

// What only the drivers can find is told with the lines of the config.
func TestCheckNamesTheLines(t *testing.T) {
	cfg := parse(t, oneLoop+"range = \"0.256 V\"\n[[sensors.pulse]]\nline = \"A\"\nchannel = \"flow\"\nk_factor = [\"100/L at 1 Hz\", \"1000/L at 1.1 Hz\"]\nmax_frequency = \"100 Hz\"\n")
	err := Check(cfg)
	require.ErrorContains(t, err, "[[sensors.adc]] on line 4: ")
	require.ErrorContains(t, err, `input "inlet_pressure": needs 0 to 2.35 V at the pin`)
	require.ErrorContains(t, err, "[[sensors.pulse]] on line 14: ")
	require.ErrorContains(t, err, "the flow would fall")
}

// A bus that isn't there costs its channel a status and is tried again; one
// that comes back is opened anew.
func TestAMissingBusIsTriedAgain(t *testing.T) {
	m := newModel(map[uint16]float64{muxAIN2: 1.2}) // 12 mA over 100 ohm: the middle of the span
	m.missing = true
	p := run(t, Env{OpenI2C: m.open}, parse(t, oneLoop), nil)
	_, note := p.await(t, frame.InletPressure, frame.Failed)
	require.Contains(t, note, "cannot open i2c-1")

	m.set(func(m *converterModel) { m.missing = false })
	s, note := p.await(t, frame.InletPressure, frame.Good)
	require.InDelta(t, 800e3, s.Value, 200, "half of 1600 kPa")
	require.Empty(t, note)
	require.Equal(t, "1.2000 V, 12.000 mA", p.set.Raw(frame.InletPressure))

	m.set(func(m *converterModel) { m.volts[muxAIN2] = 0.1 })
	_, note = p.await(t, frame.InletPressure, frame.Failed)
	require.Contains(t, note, "loop current 1 mA: wire off")
	require.Equal(t, "0.1000 V, 1.000 mA", p.set.Raw(frame.InletPressure), "a fault shows its signal all the same")

	m.set(func(m *converterModel) { m.volts[muxAIN2], m.absent = 1.2, true })
	require.Eventually(t, func() bool { _, n := m.counts(); return n > 0 }, 5*time.Second, 5*time.Millisecond, "the bus is given back")
	m.set(func(m *converterModel) { m.absent = false })
	p.await(t, frame.InletPressure, frame.Good)
	opened, _ := m.counts()
	require.Greater(t, opened, 1)
}

// A transfer that hangs keeps neither the release waiting nor the bus open.
func TestAHungBusIsClosedWhenItComesBack(t *testing.T) {
	m := newModel(nil)
	m.hang = make(chan struct{})
	b := &lazyBus{number: 1, open: m.open}
	ended := make(chan error)
	go func() { ended <- b.Tx(0x48, []byte{0}, make([]byte, 2)) }()
	require.Eventually(t, func() bool { n, _ := m.counts(); return n == 1 }, 5*time.Second, time.Millisecond)
	b.release()
	_, closed := m.counts()
	require.Zero(t, closed)
	close(m.hang)
	require.Error(t, <-ended)
	_, closed = m.counts()
	require.Equal(t, 1, closed)
	m.set(func(m *converterModel) { m.hang = nil })
	require.NoError(t, b.Tx(0x48, []byte{0}, make([]byte, 2)))
	opened, _ := m.counts()
	require.Equal(t, 2, opened)
	b.release()
	b.release()
	_, closed = m.counts()
	require.Equal(t, 2, closed)
}

func calibration(date time.Time) calibrate.Calibration {
	return calibrate.Calibration{
		Channel: "inlet_pressure", Method: calibrate.TwoPoint, Margin: 2e6, Date: date, Who: "tester", ValidDays: 30,
		Points: []calibrate.Point{{Raw: 0, Reference: 10e3}, {Raw: 1e6, Reference: 1.01e6}},
	}
}

func TestReadingsAreCorrectedCheckedAndAge(t *testing.T) {
	store, err := calibrate.NewStore(t.TempDir())
	require.NoError(t, err)
	made := time.Date(2026, 1, 1, 8, 0, 0, 0, time.UTC)
	require.NoError(t, store.Append(calibration(made)))
	cal := NewCalibrations(store, func() time.Time { return made.Add(24 * time.Hour) })
	m := newModel(map[uint16]float64{muxAIN2: 1.2})
	p := run(t, Env{OpenI2C: m.open}, parse(t, oneLoop), cal)
	s, _ := p.await(t, frame.InletPressure, frame.Good)
	require.InDelta(t, 810e3, s.Value, 200, "10 kPa more than the sensor's own 800")

	raw := make(chan calibrate.Sample, 100)
	require.True(t, cal.Check(frame.InletPressure, func(s calibrate.Sample) {
		select {
		case raw <- s:
		default:
		}
	}))
	require.False(t, cal.Check(frame.InletPressure, func(calibrate.Sample) {}), "one at a time")
	_, note := p.await(t, frame.InletPressure, frame.Checking)
	require.Equal(t, "being calibrated", note)
	require.InDelta(t, 800e3, (<-raw).Sample.Value, 200, "the sensor's own reading")
	require.True(t, cal.Check(frame.InletPressure, nil))
	p.await(t, frame.InletPressure, frame.Good)

	old := calibration(made.Add(-100 * 24 * time.Hour))
	require.NoError(t, store.Append(old))
	cal.Reload(frame.InletPressure)
	_, note = p.await(t, frame.InletPressure, frame.Service)
	require.Contains(t, note, "out of date")

	require.NoError(t, os.WriteFile(store.File(frame.InletPressure), []byte("torn\n"), 0o644))
	cal.Reload(frame.InletPressure)
	require.Eventually(t, func() bool {
		s, note := p.sample(frame.InletPressure)
		return s.Status == frame.Uncorrected && s.Value < 801e3 && note != ""
	}, 5*time.Second, 10*time.Millisecond, "the sensor's own reading, which has lost its calibration")
}

func TestThermometersAndSwitchesFromFakes(t *testing.T) {
	root := t.TempDir()
	dir := filepath.Join(root, "28-000000123456")
	require.NoError(t, os.Mkdir(dir, 0o755))
	// A scratchpad of 25.0625 degrees Celsius, from the part's data sheet: 0x0191.
	text := "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "w1_slave"), []byte(text), 0o644))
	board := gpiofake.New()
	cfg := parse(t, "[simulator]\non = false\n[[sensors.thermometer]]\nserial = \"28-000000123456\"\nchannel = \"water_temp\"\n"+
		"[[sensors.switch]]\nline = \"PEDAL\"\nactive_low = true\nchannel = \"trigger\"\n")
	p := run(t, Env{Lines: board, W1Root: root}, cfg, nil)
	s, _ := p.await(t, frame.WaterTemp, frame.Good)
	require.InDelta(t, 273.15+25.0625, s.Value, 0.001)
	s, _ = p.await(t, frame.Trigger, frame.Good)
	require.InDelta(t, 1, s.Value, 0, "low is on")
	board.Set("PEDAL", true)
	require.Eventually(t, func() bool { s, _ := p.sample(frame.Trigger); return s.OK() && s.Value == 0 }, 5*time.Second, 5*time.Millisecond)
}
