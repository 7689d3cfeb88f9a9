package thermo1w_test

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/onewire"
	"periph.io/x/conn/v3/onewire/onewiretest"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/thermo1w"
)

const (
	water = thermo1w.Serial("28-000000123456")
	motor = thermo1w.Serial("28-000000abcdef")
)

func two() []thermo1w.Sensor {
	return []thermo1w.Sensor{{Serial: water, Channel: frame.WaterTemp}, {Serial: motor, Channel: frame.MotorTemp}}
}

// scripted answers each sensor by a function of the question's number.
type scripted struct {
	answer func(s thermo1w.Serial, n int) (float64, error)
	asked  atomic.Int32
	closed atomic.Int32
}

func (s *scripted) Read(x thermo1w.Serial) (float64, error) {
	n := s.asked.Add(1)
	time.Sleep(750 * time.Millisecond)
	return s.answer(x, int(n))
}
func (s *scripted) Close() error { s.closed.Add(1); return nil }

// run drives for that long and returns the readings and Run's error.
func run(t *testing.T, o thermo1w.Options, for_ time.Duration) (got []sensors.Reading, err error) {
	t.Helper()
	d, err := thermo1w.New(o)
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(t.Context(), for_)
	defer cancel()
	begin := time.Now()
	err = d.Run(ctx, func() time.Duration { return time.Since(begin) }, func(r sensors.Reading) { got = append(got, r) })
	return got, err
}

func source(s thermo1w.Source) func() (thermo1w.Source, error) {
	return func() (thermo1w.Source, error) { return s, nil }
}

func TestDriverGivesKelvinAndTheTimeOfTheConversion(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &scripted{answer: func(x thermo1w.Serial, _ int) (float64, error) {
			if x == water {
				return 10_000, nil
			}
			return 60_000, nil
		}}
		got, err := run(t, thermo1w.Options{Open: source(s), Sensors: two()}, 3900*time.Millisecond)
		require.NoError(t, err)
		require.Equal(t, []sensors.Reading{
			{Channel: frame.WaterTemp, Sample: frame.Sample{Value: 283.15, Status: frame.Good}, At: 0},
			{Channel: frame.MotorTemp, Sample: frame.Sample{Value: 333.15, Status: frame.Good}, At: 750 * time.Millisecond},
			{Channel: frame.WaterTemp, Sample: frame.Sample{Value: 283.15, Status: frame.Good}, At: 2 * time.Second},
			{Channel: frame.MotorTemp, Sample: frame.Sample{Value: 333.15, Status: frame.Good}, At: 2750 * time.Millisecond},
		}, got)
		require.EqualValues(t, 1, s.closed.Load())
	})
}

func TestOneBadAnswerIsAskedAgainTwoAreAFault(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bad := &thermo1w.Fault{Status: frame.Failed, Words: "the checksum is wrong"}
		s := &scripted{answer: func(_ thermo1w.Serial, n int) (float64, error) {
			if n == 2 || n == 4 || n == 5 {
				return 0, bad
			}
			return 10_000, nil
		}}
		got, err := run(t, thermo1w.Options{Open: source(s), Sensors: two()[:1]}, 7900*time.Millisecond)
		require.NoError(t, err)
		require.Len(t, got, 4)
		require.Equal(t, frame.Good, got[1].Sample.Status)
		require.Equal(t, 2750*time.Millisecond, got[1].At, "the time of the answer that counts")
		require.Equal(t, frame.Sample{Value: 283.15, Status: frame.Failed}, got[2].Sample, "the last value stays, for evidence")
		require.Equal(t, "sensor 28-000000123456: the checksum is wrong", got[2].Note)
		require.Equal(t, frame.Good, got[3].Sample.Status)
	})
}

func TestOneLostSensorCostsNoOtherChannel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		files := func() (thermo1w.Source, error) { return thermo1w.Files{Root: "testdata/temperature_only"}, nil }
		got, err := run(t, thermo1w.Options{Open: files, Sensors: two()}, time.Second)
		require.NoError(t, err)
		require.Len(t, got, 2)
		require.Equal(t, frame.Good, got[0].Sample.Status)
		require.InDelta(t, 283.275, got[0].Sample.Value, 1e-9)
		require.Equal(t, frame.Missing, got[1].Sample.Status)
		require.Contains(t, got[1].Note, "sensor 28-000000abcdef: the sensor is not on the bus")
	})
}

func TestADeadBusEndsTheRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		empty := func() (thermo1w.Source, error) { return thermo1w.Files{Root: "testdata/empty"}, nil }
		got, err := run(t, thermo1w.Options{Open: empty, Sensors: two()}, time.Minute)
		require.ErrorContains(t, err, "no 1-wire thermometer answers")
		require.Len(t, got, 6, "three rounds first")
		gone := func() (thermo1w.Source, error) { return thermo1w.Files{Root: "testdata/nowhere"}, nil }
		_, err = run(t, thermo1w.Options{Open: gone, Sensors: two()}, time.Minute)
		require.ErrorContains(t, err, "cannot find the 1-wire bus")
		_, err = run(t, thermo1w.Options{Open: func() (thermo1w.Source, error) { return nil, errors.New("no bridge") }, Sensors: two()}, time.Minute)
		require.ErrorContains(t, err, "cannot open the 1-wire bus: no bridge")
	})
}

func TestAHungBusHangsNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hang := make(chan struct{})
		s := &scripted{answer: func(thermo1w.Serial, int) (float64, error) { <-hang; return 0, nil }}
		begin := time.Now()
		got, err := run(t, thermo1w.Options{Open: source(s), Sensors: two()}, time.Minute)
		require.ErrorContains(t, err, "no 1-wire thermometer answers")
		require.Less(t, time.Since(begin), 8*time.Second)
		require.EqualValues(t, 1, s.asked.Load(), "hung reads never pile up")
		require.Len(t, got, 6)
		require.Contains(t, got[0].Note, "the bus hangs")
		require.Equal(t, frame.Failed, got[5].Sample.Status)
		close(hang)
	})
}

// The address's checksum byte was computed by the tested code; crc8 itself is
// checked against application note 27.
func match(t *testing.T, s thermo1w.Serial, command byte) []byte {
	t.Helper()
	a, err := s.Address()
	require.NoError(t, err)
	w := []byte{0x55} // match ROM, DS18B20 data sheet
	for i := range 8 {
		w = append(w, byte(a>>(8*i)))
	}
	return append(w, command)
}

func TestBusSpeaksTheDataSheet(t *testing.T) {
	pad := []byte{0xa2, 0x00, 0x4b, 0x46, 0x7f, 0xff, 0x0e, 0x10, 0xe5} // 10.125 °C; the checksum is from a second implementation, in Python
	for name, c := range map[string]struct {
		pad      []byte
		parasite bool
		want     float64
		words    string
	}{
		"power-on scratchpad": {[]byte{0x50, 0x05, 0x4b, 0x46, 0x7f, 0xff, 0x0c, 0x10, 0x1c}, false, 0, "power-on value"},
		"10.125 °C":           {pad, false, 10_125, ""},
		"parasite power":      {pad, true, 10_125, ""},
		"one bit wrong":       {[]byte{0xa3, 0x00, 0x4b, 0x46, 0x7f, 0xff, 0x0e, 0x10, 0xe5}, false, 0, "checksum"},
		"nobody answers":      {[]byte{255, 255, 255, 255, 255, 255, 255, 255, 255}, false, 0, "no answer"},
		"wire held low":       {make([]byte, 9), false, 0, "shorted to ground"},
	} {
		synctest.Test(t, func(t *testing.T) {
			play := &onewiretest.Playback{DontPanic: true, Ops: []onewiretest.IO{
				{W: match(t, water, 0x44), Pull: onewire.Pullup(c.parasite)},
				{W: match(t, water, 0xbe), R: c.pad},
			}}
			bus := &thermo1w.Bus{Wire: play, Parasite: c.parasite}
			begin := time.Now()
			got, err := bus.Read(water)
			require.Equal(t, 750*time.Millisecond, time.Since(begin), name)
			if c.words == "" {
				require.NoError(t, err, name)
			} else {
				require.ErrorContains(t, err, c.words, name)
			}
			require.Equal(t, c.want, got, name)
			require.NoError(t, bus.Close(), name) // fails if an operation was left out
		})
	}
}

type brokenWire struct{ err error }

func (b brokenWire) String() string                         { return "bridge" }
func (b brokenWire) Tx(_, _ []byte, _ onewire.Pullup) error { return b.err }
func (b brokenWire) Search(bool) ([]onewire.Address, error) { return nil, b.err }

type shorted struct{ error }

func (shorted) IsShorted() bool { return true }

type nobody struct{ error }

func (nobody) NoDevices() bool { return true }

func TestBusErrorsAreTold(t *testing.T) {
	for want, err := range map[string]error{
		"shorted to ground":                shorted{errors.New("x")},
		"no answer":                        nobody{errors.New("x")},
		"cannot use the 1-wire bus bridge": errors.New("x"),
	} {
		_, got := (&thermo1w.Bus{Wire: brokenWire{err}}).Read(water)
		require.ErrorContains(t, got, want)
		var fault *thermo1w.Fault
		require.Equal(t, want[0] != 'c', errors.As(got, &fault))
	}
	_, err := (&thermo1w.Bus{Wire: brokenWire{}}).Read("x")
	require.ErrorContains(t, err, "no serial number")
	require.NoError(t, (&thermo1w.Bus{Wire: brokenWire{}}).Close())
}

func TestNewRefuses(t *testing.T) {
	for want, change := range map[string]func(*thermo1w.Options){
		"option Sensors is empty":       func(o *thermo1w.Options) { o.Sensors = nil },
		"option Period is 1ms":          func(o *thermo1w.Options) { o.Period = time.Millisecond },
		"option Limit is 1m":            func(o *thermo1w.Options) { o.Limit = time.Minute },
		"no serial number":              func(o *thermo1w.Options) { o.Sensors[0].Serial = "28" },
		"it measures temperature":       func(o *thermo1w.Options) { o.Sensors[0].Channel = frame.Flow },
		"each sensor and each channel":  func(o *thermo1w.Options) { o.Sensors[1].Channel = frame.WaterTemp },
		"each sensor and each channel ": func(o *thermo1w.Options) { o.Sensors[1].Serial = water },
	} {
		o := thermo1w.Options{Sensors: two()}
		change(&o)
		_, err := thermo1w.New(o)
		require.ErrorContains(t, err, want)
	}
	d, err := thermo1w.New(thermo1w.Options{Sensors: two()})
	require.NoError(t, err)
	require.Equal(t, []frame.Channel{frame.WaterTemp, frame.MotorTemp}, d.Channels())
	require.Equal(t, "1-wire thermometers (28-000000123456, 2 in all)", d.Name())
}
