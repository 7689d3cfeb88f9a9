package calibrate_test

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/calibrate"
)

var day = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func pt(raw, ref float64) calibrate.Point {
	return calibrate.Point{Raw: raw, Reference: ref, AsFound: raw, AsLeft: ref, Spread: 1}
}

func cal(m calibrate.Method, margin float64, points ...calibrate.Point) calibrate.Calibration {
	return calibrate.Calibration{Channel: "inlet_pressure", Method: m, Points: points, Margin: margin,
		Date: day, Who: "invented person", Instrument: "invented test gauge", ValidDays: 365}
}

// Where the only calibration was undone nothing was compared, so nothing falls
// due, whatever the clock says.
func TestUndoneCalibrationHoldsForNoTime(t *testing.T) {
	c := cal(calibrate.None, 0)
	c.Undone = true
	require.NoError(t, c.Validate())
	for _, now := range []time.Time{day.AddDate(-20, 0, 0), day, day.AddDate(20, 0, 0)} {
		s, why := c.Status(now)
		require.Equal(t, frame.Good, s)
		require.Empty(t, why)
	}
	c.Method, c.Points = calibrate.Zero, []calibrate.Point{pt(3, 0)}
	require.ErrorContains(t, c.Validate(), "undone")
}

// Source: straight lines by hand.
func TestApply(t *testing.T) {
	two := cal(calibrate.TwoPoint, 50, pt(10, 0), pt(110, 200))
	table := cal(calibrate.Table, 10, pt(0, 0), pt(100, 110), pt(200, 200))
	zero := cal(calibrate.Zero, 1000, pt(3, 0))
	none := cal(calibrate.None, 0)
	for _, c := range []struct {
		name  string
		c     calibrate.Calibration
		value float64
		want  float64
		ok    bool
	}{
		{"none", none, 7, 7, true},
		{"none, no number", none, math.NaN(), 0, false},
		{"none, endless", none, math.Inf(1), 0, false},
		{"zero", zero, 10, 7, true},
		{"zero, far below", zero, -998, 0, false},
		{"two-point low", two, 10, 0, true},
		{"two-point middle", two, 60, 100, true},
		{"two-point in the margin", two, 160, 300, true},
		{"two-point below in the margin", two, -40, -100, true},
		{"two-point beyond", two, 160.1, 0, false},
		{"two-point below", two, -40.1, 0, false},
		{"table at a point", table, 100, 110, true},
		{"table first piece", table, 50, 55, true},
		{"table second piece", table, 150, 155, true},
		{"table beyond its end", table, 210, 209, true},
		{"table beyond its margin", table, 211, 0, false},
		{"no calibration", calibrate.Calibration{}, 1, 0, false},
	} {
		if c.name != "no calibration" {
			require.NoError(t, c.c.Validate(), c.name)
		}
		got, ok := c.c.Apply(c.value)
		require.Equal(t, c.ok, ok, c.name)
		require.InDelta(t, c.want, got, 1e-12, c.name)
	}
}

func TestATableRisesAndMeetsItsPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, calibrate.MaxPoints).Draw(t, "n")
		raw, ref := rapid.Float64Range(-1e5, 1e5).Draw(t, "raw"), rapid.Float64Range(-1e5, 1e5).Draw(t, "ref")
		var ps []calibrate.Point
		for range n {
			ps = append(ps, pt(raw, ref))
			step := rapid.Float64Range(1, 1e5).Draw(t, "step")
			raw, ref = raw+step, ref+step*rapid.Float64Range(0.2, 5).Draw(t, "gain")
		}
		c := cal(calibrate.Table, 100, ps...)
		require.NoError(t, c.Validate())
		for _, p := range ps {
			got, ok := c.Apply(p.Raw)
			require.True(t, ok)
			require.InDelta(t, p.Reference, got, 1e-6)
		}
		lo, hi := c.Range()
		a := rapid.Float64Range(lo, hi).Draw(t, "a")
		b := rapid.Float64Range(lo, hi).Draw(t, "b")
		x, ok1 := c.Apply(min(a, b))
		y, ok2 := c.Apply(max(a, b))
		require.True(t, ok1 && ok2)
		require.LessOrEqual(t, x, y)
	})
}

func TestWhatIsNoCalibration(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*calibrate.Calibration)
		want   string
	}{
		{"channel", func(c *calibrate.Calibration) { c.Channel = "inlet" }, "no channel"},
		{"digital", func(c *calibrate.Calibration) { c.Channel = "running" }, "on/off"},
		{"date", func(c *calibrate.Calibration) { c.Date = time.Time{} }, "its date"},
		{"who", func(c *calibrate.Calibration) { c.Who = "" }, "who made it"},
		{"days", func(c *calibrate.Calibration) { c.ValidDays = 0 }, "0 days"},
		{"margin", func(c *calibrate.Calibration) { c.Margin = math.NaN() }, "margin"},
		{"method", func(c *calibrate.Calibration) { c.Method = "magic" }, "no method"},
		{"count", func(c *calibrate.Calibration) { c.Points = c.Points[:1] }, "1 points"},
		{"order", func(c *calibrate.Calibration) { c.Points = []calibrate.Point{pt(2, 0), pt(1, 3)} }, "rise together"},
		{"falling", func(c *calibrate.Calibration) { c.Points = []calibrate.Point{pt(1, 3), pt(2, 0)} }, "rise together"},
		{"same", func(c *calibrate.Calibration) { c.Points = []calibrate.Point{pt(1, 3), pt(1, 4)} }, "rise together"},
		{"unit", func(c *calibrate.Calibration) { c.Points = []calibrate.Point{pt(0, 0), pt(1000, 6.9)} }, "rise together"},
		{"no number", func(c *calibrate.Calibration) { c.Points = []calibrate.Point{pt(math.Inf(-1), 0), pt(1, 1)} }, "isn't numbers"},
	} {
		x := cal(calibrate.TwoPoint, 1, pt(0, 0), pt(10, 10))
		require.NoError(t, x.Validate())
		c.change(&x)
		require.ErrorContains(t, x.Validate(), c.want, c.name)
	}
}

func TestStatusByAge(t *testing.T) {
	c := cal(calibrate.None, 0)
	for _, x := range []struct {
		now  time.Time
		want frame.Status
		why  string
	}{
		{day, frame.Good, ""},
		{day.AddDate(0, 0, 365), frame.Good, ""},
		{day.AddDate(0, 0, 365).Add(time.Second), frame.Service, "out of date"},
		{day.Add(-47 * time.Hour), frame.Good, ""},
		{time.Date(1970, 1, 1, 0, 0, 9, 0, time.UTC), frame.Service, "clock is before"},
	} {
		got, why := c.Status(x.now)
		require.Equal(t, x.want, got, "%v", x.now)
		require.Contains(t, why, x.why)
	}
}

func TestStage(t *testing.T) {
	now := day
	var got []sensors.Reading
	s := calibrate.NewStage(func() time.Time { return now }, func(r sensors.Reading) { got = append(got, r) })
	c := cal(calibrate.TwoPoint, 50, pt(10, 0), pt(110, 200))
	require.NoError(t, s.Use(frame.InletPressure, &c))
	require.Error(t, s.Use(frame.OutletPressure, &c), "of another channel")
	require.Error(t, s.Use(frame.InletPressure, &calibrate.Calibration{}))
	require.Error(t, s.Use(frame.NumChannels, nil))
	c.Points[0].Reference = 1e6 // the stage has its own copy
	post := func(ch frame.Channel, v float64, st frame.Status) sensors.Reading {
		got = nil
		s.Post(sensors.Reading{Channel: ch, Sample: frame.Sample{Value: v, Status: st}, At: 7})
		require.Len(t, got, 1)
		return got[0]
	}
	require.Equal(t, frame.Sample{Value: 100, Status: frame.Good}, post(frame.InletPressure, 60, frame.Good).Sample)
	require.Equal(t, frame.Sample{Value: 60, Status: frame.Good}, post(frame.OutletPressure, 60, frame.Good).Sample)
	require.Equal(t, frame.Sample{Value: 60, Status: frame.Failed}, post(frame.InletPressure, 60, frame.Failed).Sample)
	r := post(frame.InletPressure, 500, frame.Good)
	require.Equal(t, frame.Sample{Status: frame.Suspect}, r.Sample)
	require.Equal(t, "reading 500 is beyond what the calibration of 2026-03-01 covers, -40 to 160 (SI)", r.Note)

	var tapped []calibrate.Sample
	require.True(t, s.Check(frame.InletPressure, func(x calibrate.Sample) { tapped = append(tapped, x) }))
	require.False(t, s.Check(frame.InletPressure, func(calibrate.Sample) {}), "somebody is at it")
	require.Equal(t, frame.Sample{Value: 100, Status: frame.Checking}, post(frame.InletPressure, 60, frame.Good).Sample)
	require.Equal(t, []calibrate.Sample{{At: 7, Sample: frame.Sample{Value: 60, Status: frame.Good}}}, tapped, "raw")
	require.Equal(t, frame.Missing, post(frame.InletPressure, 60, frame.Missing).Sample.Status, "a fault stays one")
	require.True(t, s.Check(frame.InletPressure, nil))

	now = day.AddDate(2, 0, 0)
	r = post(frame.InletPressure, 60, frame.Good)
	require.Equal(t, frame.Sample{Value: 100, Status: frame.Service}, r.Sample)
	require.Contains(t, r.Note, "out of date")
	s.Post(sensors.Reading{Channel: frame.NumChannels})
	require.NoError(t, s.Use(frame.InletPressure, nil))
	require.Equal(t, frame.Sample{Value: 60, Status: frame.Good}, post(frame.InletPressure, 60, frame.Good).Sample)
}

func FuzzApply(f *testing.F) {
	f.Add([]byte(`{"channel":"flow","method":"zero","points":[{"raw":1,"reference":0}],"margin":1,"date":"2026-01-01T00:00:00Z","who":"x","valid_days":1}`), 0.5)
	f.Add([]byte(`{"channel":"flow","method":"two-point","points":[{"raw":1,"reference":0},{"raw":2,"reference":3}],"date":"2026-01-01T00:00:00Z","who":"x","valid_days":1}`), 1e308)
	f.Fuzz(func(t *testing.T, text []byte, value float64) {
		var c calibrate.Calibration
		if json.Unmarshal(text, &c) != nil {
			return
		}
		got, ok := c.Apply(value)
		require.False(t, math.IsNaN(got) || math.IsInf(got, 0))
		if !ok {
			require.Zero(t, got)
		}
		if c.Validate() == nil {
			_ = c.Doubts()
		}
	})
}

func BenchmarkStage(b *testing.B) {
	s := calibrate.NewStage(time.Now, func(sensors.Reading) {})
	var ps []calibrate.Point
	for i := range calibrate.MaxPoints {
		ps = append(ps, pt(float64(i), float64(i)*1.01))
	}
	c := cal(calibrate.Table, 1e6, ps...)
	c.Date, c.ValidDays = time.Now(), 3000
	require.NoError(b, s.Use(frame.InletPressure, &c))
	b.ReportAllocs()
	for b.Loop() {
		s.Post(sensors.Reading{Channel: frame.InletPressure, Sample: frame.Sample{Value: 30.5, Status: frame.Good}})
	}
}
