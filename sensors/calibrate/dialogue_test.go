package calibrate_test

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/frame"
	"headroom/sensors/calibrate"
)

// talk drives a dialogue; its clock runs with its samples.
type talk struct {
	t  require.TestingT
	d  calibrate.Dialogue
	at time.Duration
}

func begin(t require.TestingT, s calibrate.Setup) *talk {
	d, err := calibrate.Begin(s)
	require.NoError(t, err)
	return &talk{t: t, d: d}
}

func (x *talk) do(e calibrate.Event) *talk {
	d, err := x.d.Next(e)
	require.NoError(x.t, err)
	x.d = d
	return x
}

func (x *talk) refuse(e calibrate.Event, want string) *talk {
	d, err := x.d.Next(e)
	require.ErrorContains(x.t, err, want)
	require.Equal(x.t, x.d, d, "a refusal changes nothing")
	return x
}

// steady gives a window of readings around value.
func (x *talk) steady(value float64) *talk {
	for i := range calibrate.WindowSize {
		x.at += 100 * time.Millisecond
		x.do(calibrate.Sample{At: x.at, Sample: frame.Sample{Value: value + []float64{1, -1, -1, 1}[i%4], Status: frame.Checking}})
	}
	return x
}

var (
	pressure = calibrate.Setup{Channel: frame.InletPressure, Tolerance: 100}
	sign     = calibrate.Confirm{Who: "invented person", Instrument: "invented test gauge", Note: "bench", Date: day, ValidDays: 180}
)

func TestTwoPointDialogue(t *testing.T) {
	before := cal(calibrate.Zero, 1e6, pt(1000, 0))
	s := pressure
	s.Before = &before
	x := begin(t, s)
	require.True(t, x.d.Active())
	require.Equal(t, frame.InletPressure, x.d.Channel())
	x.refuse(calibrate.Take{}, "not at this step").refuse(sign, "not at this step").refuse(calibrate.Enough{}, "not at this step").refuse(calibrate.Back{}, "not at this step")
	x.refuse(calibrate.Choose{Method: "guess"}, "cannot choose")
	x.do(calibrate.Choose{Method: calibrate.TwoPoint}).refuse(calibrate.Take{}, "waiting for more readings")
	x.steady(2000)
	require.True(t, x.d.View().CanTake)
	x.do(calibrate.Take{Reference: 0})
	require.Equal(t, calibrate.TakeHigh, x.d.Step())
	x.refuse(calibrate.Take{Reference: 3e5}, "waiting for more")
	x.steady(3000).refuse(calibrate.Take{Reference: 1e3}, "go higher")
	x.steady(302000).refuse(calibrate.Take{Reference: -5}, "must be above the last")
	x.do(calibrate.Take{Reference: 3.06e5})
	require.Equal(t, calibrate.Review, x.d.Step())
	v := x.d.View()
	require.True(t, v.CanSave)
	require.NotEmpty(t, v.Doubts, "the margin doesn't cover all that the channel can read")
	x.steady(152000)
	x.refuse(calibrate.Confirm{}, "date").do(sign).refuse(sign, "not at this step")
	require.Equal(t, calibrate.Saving, x.d.Step())
	x.do(calibrate.Saved{Err: errors.New("disk full")})
	require.Equal(t, "disk full", x.d.View().Problem)
	require.Equal(t, calibrate.Review, x.d.Step())
	x.do(sign).do(calibrate.Saved{})
	require.Equal(t, calibrate.Done, x.d.Step())
	require.False(t, x.d.Active())
	x.refuse(calibrate.Cancel{}, "over")

	got := x.d.Result()
	require.NoError(t, got.Validate())
	require.InDelta(t, 2000, got.Points[0].Raw, 0.1)
	require.InDelta(t, 1000, got.Points[0].AsFound, 0.1, "what the zero before made of it")
	require.InDelta(t, 0, got.Points[0].AsLeft, 1e-6)
	require.InDelta(t, 150e3, got.Margin, 1, "half of the span")
	require.InDelta(t, 153e3, *got.After, 1)
	y, ok := got.Apply(152000)
	require.True(t, ok)
	require.InDelta(t, 153e3, y, 1)
}

func TestZeroNoneTableAndBack(t *testing.T) {
	x := begin(t, pressure).do(calibrate.Choose{Method: calibrate.Zero}).steady(700).do(calibrate.Take{Reference: 0})
	require.Equal(t, calibrate.Review, x.d.Step())
	x.do(calibrate.Back{})
	require.Equal(t, calibrate.TakeLow, x.d.Step())
	x.do(calibrate.Back{}).do(calibrate.Choose{Method: calibrate.Zero}).steady(700).do(calibrate.Take{Reference: 0}).do(sign)
	got := x.d.Result()
	y, ok := got.Apply(-90e3)
	require.True(t, ok, "a zero covers all that the channel can read")
	require.InDelta(t, -90700, y, 0.5)
	require.Nil(t, got.After)

	x = begin(t, pressure).do(calibrate.Choose{Method: calibrate.None})
	require.Equal(t, calibrate.Review, x.d.Step())
	x.do(sign).do(calibrate.Saved{})

	x = begin(t, pressure).do(calibrate.Choose{Method: calibrate.Table})
	for i := range 3 {
		if i > 0 {
			x.refuse(calibrate.Enough{}, "at least 3 points")
		}
		x.steady(1e5 * float64(i)).do(calibrate.Take{Reference: 1.01e5 * float64(i)})
	}
	require.True(t, x.d.View().CanEnd)
	old := x.d
	x.do(calibrate.Back{}).steady(4e5).do(calibrate.Take{Reference: 4e5}).do(calibrate.Enough{}).do(sign)
	require.Len(t, x.d.Result().Points, 3)
	require.InDelta(t, 2.02e5, old.Result().Points[2].Reference, 1e-6, "the old dialogue keeps its own points")
	x.do(calibrate.Cancel{})
	require.Equal(t, calibrate.Cancelled, x.d.Step())
	require.False(t, x.d.Active())
}

func TestAFullTableEndsByItself(t *testing.T) {
	x := begin(t, pressure).do(calibrate.Choose{Method: calibrate.Table})
	for i := range calibrate.MaxPoints {
		x.steady(1e4 * float64(i)).do(calibrate.Take{Reference: 1e4 * float64(i)})
	}
	require.Equal(t, calibrate.Review, x.d.Step())
}

func TestAFaultBreaksTheWindow(t *testing.T) {
	x := begin(t, pressure).do(calibrate.Choose{Method: calibrate.Zero}).steady(5)
	require.True(t, x.d.View().CanTake)
	x.at += time.Second
	x.do(calibrate.Sample{At: x.at, Sample: frame.Sample{Value: 5, Status: frame.Failed}})
	require.False(t, x.d.View().CanTake)
	require.Equal(t, frame.Failed, x.d.View().Status)
	x.refuse(calibrate.Take{}, "waiting for more readings")
}

func TestAWrongUnitIsRefusedOrDoubted(t *testing.T) {
	x := begin(t, pressure).do(calibrate.Choose{Method: calibrate.TwoPoint}).steady(0).do(calibrate.Take{Reference: 0})
	x.steady(3e5).refuse(calibrate.Take{Reference: 43.5}, "the reference's unit")
	x.do(calibrate.Take{Reference: 2.4e5})
	require.Contains(t, x.d.View().Doubts[0], "off by 25 % of its scale")
}

func TestBeginRefuses(t *testing.T) {
	for _, s := range []calibrate.Setup{{Channel: frame.Running, Tolerance: 1}, {Channel: frame.NumChannels, Tolerance: 1}, {Channel: frame.Flow}, {Channel: frame.Flow, Tolerance: 1, Margin: -1}} {
		_, err := calibrate.Begin(s)
		require.ErrorContains(t, err, "cannot calibrate")
	}
	var d calibrate.Dialogue
	require.False(t, d.Active())
	require.Equal(t, "No calibration under way.", d.View().Todo)
	_, err := d.Next(calibrate.Cancel{})
	require.Error(t, err)
}

// Whatever is done in whatever order, a dialogue that reaches Saving has a
// valid calibration, and a refusal changes nothing.
func TestAnyOrderOfEvents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := begin(t, pressure)
		for range rapid.IntRange(1, 40).Draw(t, "events") {
			e := rapid.SampledFrom([]calibrate.Event{
				calibrate.Choose{Method: calibrate.Zero}, calibrate.Choose{Method: calibrate.TwoPoint}, calibrate.Choose{Method: calibrate.Table},
				calibrate.Take{Reference: rapid.Float64Range(-1e6, 1e6).Draw(t, "reference")}, calibrate.Enough{}, calibrate.Back{}, sign, nil,
			}).Draw(t, "event")
			if e == nil {
				x.steady(rapid.Float64Range(-1e5, 1e6).Draw(t, "level"))
				continue
			}
			v := x.d.View()
			d, err := x.d.Next(e)
			if err != nil {
				require.Equal(t, x.d, d)
			}
			if _, ok := e.(calibrate.Take); ok && err == nil {
				require.True(t, v.CanTake)
			}
			if x.d = d; d.Step() == calibrate.Saving {
				c := d.Result()
				require.NoError(t, c.Validate())
				return
			}
		}
	})
}
