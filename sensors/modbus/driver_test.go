package modbus

import (
	"context"
	"errors"
	"math"
	"net"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/sensors"
)

func volts(unit byte) Point {
	return Point{Unit: unit, Table: Input, Register: 10, Type: U16, Scale: 0.1, Symbol: "V", Channel: frame.SupplyVoltage}
}

func amps(unit byte) Point {
	return Point{Unit: unit, Table: Input, Register: 11, Type: S16, Scale: 0.01, Symbol: "A", Channel: frame.MotorCurrent}
}

// drive runs the driver on a pipe with a meter for that long, or until it ends.
func drive(t *testing.T, m *meter, long time.Duration, points ...Point) (got []sensors.Reading, err error) {
	t.Helper()
	open := func() (Port, error) {
		near, far := net.Pipe()
		go func() { m.serve(far, 1); far.Close() }()
		return near, nil
	}
	d, err := New(Options{Name: "line", Open: open, Baud: 9600, Points: points})
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(t.Context(), long)
	defer cancel()
	begin := time.Now()
	err = d.Run(ctx, func() time.Duration { return time.Since(begin) }, func(r sensors.Reading) { got = append(got, r) })
	return got, err
}

func newMeter() *meter { return &meter{registers: map[uint16]uint16{10: 2301, 11: 0xff9c}} }

func TestDriverRound(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		got, err := drive(t, newMeter(), 1900*time.Millisecond, volts(1), amps(1))
		require.NoError(t, err)
		require.Len(t, got, 8, "two points, each 500 ms")
		require.InDelta(t, 230.1, got[0].Sample.Value, 1e-9)
		require.InDelta(t, -1, got[1].Sample.Value, 1e-9)
		require.Equal(t, frame.Good, got[1].Sample.Status)
		require.Equal(t, 500*time.Millisecond, got[2].At)
	})
}

func TestOneRefusedRegisterCostsNoOther(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		wrong := amps(1)
		wrong.Register = 77
		got, err := drive(t, newMeter(), 400*time.Millisecond, wrong, volts(1))
		require.NoError(t, err)
		require.Equal(t, frame.Failed, got[0].Sample.Status)
		require.Contains(t, got[0].Note, "unit 1, register 77: the unit refuses (exception 2): it has no such register")
		require.Equal(t, frame.Good, got[1].Sample.Status)
	})
}

// A unit that is dead is tried ever more rarely, so that the living one keeps
// its pace.
func TestADeadUnitDoesNotSlowTheOthers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dead := amps(5)
		also := Point{Unit: 5, Table: Holding, Register: 1, Symbol: "°C", Channel: frame.MotorTemp}
		got, err := drive(t, newMeter(), time.Minute, volts(1), dead, also)
		require.NoError(t, err)
		var good, failed int
		for _, r := range got {
			if r.Channel == frame.SupplyVoltage {
				require.Equal(t, frame.Good, r.Sample.Status)
				good++
				continue
			}
			require.Equal(t, frame.Failed, r.Sample.Status)
			require.Contains(t, r.Note, "unit 5")
			require.Contains(t, r.Note, "no answer")
			failed++
		}
		require.Greater(t, good, 95, "of 120 in the minute")
		require.Less(t, failed, 24)
		require.Zero(t, failed%2, "both of its channels fail at once")
	})
}

func TestADeadLineEndsTheRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newMeter()
		m.set("silent")
		got, err := drive(t, m, time.Minute, volts(1))
		require.ErrorContains(t, err, "no unit answers: check the adapter")
		require.NotEmpty(t, got)
		d, err := New(Options{Name: "line", Baud: 9600, Points: []Point{volts(1)}, Open: func() (Port, error) { return nil, errors.New("unplugged") }})
		require.NoError(t, err)
		require.ErrorContains(t, d.Run(t.Context(), func() time.Duration { return 0 }, nil), "Modbus units on line: unplugged")
	})
}

func TestConvert(t *testing.T) {
	for _, c := range []struct {
		p      Point
		hex    string
		want   float64
		status frame.Status
		note   string
	}{
		{Point{Type: S16, Scale: 0.1, Symbol: "°C", Channel: frame.WaterTemp}, "00fa", 298.15, frame.Good, ""},
		{Point{Type: U16, Scale: 0.01, Offset: -1, Symbol: "bar", Channel: frame.InletPressure}, "0190", 3e5, frame.Good, ""},
		{Point{Type: S16, Scale: 1, Symbol: "V", NotAvailable: []uint32{0x8000}, Channel: frame.SupplyVoltage}, "8000", 0, frame.Failed, "has no value"},
		{Point{Type: U32, Scale: 1, Symbol: "V", NotAvailable: []uint32{0xffffffff}, Channel: frame.SupplyVoltage}, "ffffffff", 0, frame.Failed, "has no value"},
		{Point{Type: F32, Scale: 1, Symbol: "V", Channel: frame.SupplyVoltage}, "7fc00000", 0, frame.Failed, "no number"},
		{Point{Type: F32, Scale: 1, Symbol: "V", Channel: frame.SupplyVoltage}, "ff800000", 0, frame.Failed, "no number"},
		{Point{Type: F32, Scale: 1e300, Symbol: "V", Channel: frame.SupplyVoltage}, "7f000000", 0, frame.OutOfBand, "too large"},
	} {
		got, status, note := c.p.convert(unhex(t, c.hex))
		require.InDelta(t, c.want, got, 1e-9*(1+math.Abs(c.want)))
		require.Equal(t, c.status, status)
		require.Contains(t, note, c.note)
		require.Equal(t, status == frame.Good, note == "")
	}
}

func TestNewRefuses(t *testing.T) {
	for want, change := range map[string]func(*Options){
		"option Open":                func(o *Options) { o.Open = nil },
		"option Baud is 300":         func(o *Options) { o.Baud = 300 },
		"option Points is empty":     func(o *Options) { o.Points = nil },
		"option Period is 1ms":       func(o *Options) { o.Period = time.Millisecond },
		"option Limit is 1ms":        func(o *Options) { o.Limit = time.Millisecond },
		"option Tries is 9":          func(o *Options) { o.Tries = 9 },
		"two points feed":            func(o *Options) { o.Points = append(o.Points, o.Points[0]) },
		"feeds no channel":           func(o *Options) { o.Points[0].Channel = frame.NumChannels },
		"unit 0 for supply_voltage":  func(o *Options) { o.Points[0].Unit = 0 },
		"table 6 for supply_voltage": func(o *Options) { o.Points[0].Table = 6 },
		"type 9 for supply_voltage":  func(o *Options) { o.Points[0].Type = 9 },
		"word order 5":               func(o *Options) { o.Points[0].Order = 5 },
		"a u32 does not fit":         func(o *Options) { o.Points[0].Register, o.Points[0].Type = 0xffff, U32 },
		"must be finite":             func(o *Options) { o.Points[0].Scale = math.Inf(1) },
		`the unit "bar" for supply`:  func(o *Options) { o.Points[0].Symbol = "bar" },
	} {
		o := Options{Name: "line", Open: Serial{}.Open, Baud: 9600, Points: []Point{volts(1)}}
		change(&o)
		_, err := New(o)
		require.ErrorContains(t, err, want)
	}
}
