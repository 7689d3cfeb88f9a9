package review

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/frame"
)

// TestCusumAgainstTheHandbook: the worked example of the NIST/SEMATECH
// e-Handbook of Statistical Methods, 6.3.2.3: twenty means, target 325,
// k = 0.3175; the table's sums are rounded to two places there. Values written
// down from memory of that page; the first sums follow by hand.
func TestCusumAgainstTheHandbook(t *testing.T) {
	const source = "NIST/SEMATECH e-Handbook 6.3.2.3, from memory"
	rows := []struct{ x, up, down float64 }{
		{324.93, 0, 0}, {324.68, 0, 0.01}, {324.73, 0, 0}, {324.35, 0, 0.33}, {325.35, 0.03, 0}, {325.23, 0, 0},
		{324.13, 0, 0.56}, {324.53, 0, 0.72}, {325.23, 0, 0.17}, {324.60, 0, 0.25}, {324.63, 0, 0.31}, {325.15, 0, 0},
		{328.33, 3.01, 0}, {327.25, 4.94, 0}, {327.83, 7.45, 0}, {328.50, 10.63, 0}, {326.68, 11.99, 0},
		{327.78, 14.44, 0}, {326.88, 16.00, 0}, {328.35, 19.04, 0},
	}
	c := Cusum{Target: 325, K: 0.3175}
	for i, row := range rows {
		c.Add(row.x)
		require.InDelta(t, row.up, c.Up, 0.035, "%s, group %d", source, i+1)
		require.InDelta(t, row.down, c.Down, 0.035, "%s, group %d", source, i+1)
	}
	before := c
	c.Add(math.NaN())
	c.Add(math.Inf(-1))
	require.Equal(t, before, c)
}

// course is a made-up reading: at steps of a tick, with noise that repeats.
func course(n int, level func(s float64) float64) (out []point) {
	for i := range n {
		noise := 800 * float64((i*7919)%13-6) / 6
		at := time.Duration(i+1) * tick
		out = append(out, point{at, frame.Sample{Value: level(at.Seconds()) + noise, Status: frame.Good}})
	}
	return out
}

func ramp(t, from, lasts, a, b float64) float64 {
	return a + (b-a)*math.Min(math.Max((t-from)/lasts, 0), 1)
}

// TestFindChange: courses whose change is known, as they were written.
func TestFindChange(t *testing.T) {
	const s = time.Second
	for name, x := range map[string]struct {
		level         func(s float64) float64
		at            time.Duration
		before, after float64
		// left and reached, with what they may be off: the noise and the slack
		// of the sum shift a slow beginning.
		left, reached, within time.Duration
		none                  bool
	}{
		"a step":      {func(t float64) float64 { return ramp(t, 40, 0.01, 280e3, 40e3) }, 42 * s, 280e3, 40e3, 40 * s, 40 * s, 300 * time.Millisecond, false},
		"a fast ramp": {func(t float64) float64 { return ramp(t, 40, 3, 280e3, 40e3) }, 44 * s, 280e3, 40e3, 40 * s, 42700 * time.Millisecond, 500 * time.Millisecond, false},
		"a slow ramp": {func(t float64) float64 { return ramp(t, 100, 200, 280e3, 40e3) }, 300 * s, 280e3, 40e3, 100 * s, 280 * s, 12 * s, false},
		"up":          {func(t float64) float64 { return ramp(t, 30, 1, 100e3, 400e3) }, 33 * s, 100e3, 400e3, 30 * s, 30900 * time.Millisecond, 300 * time.Millisecond, false},
		"steady":      {func(t float64) float64 { return 280e3 }, 42 * s, 0, 0, 0, 0, 0, true},
		"too little":  {func(t float64) float64 { return ramp(t, 40, 1, 280e3, 262e3) }, 44 * s, 0, 0, 0, 0, 0, true},
		"after it":    {func(t float64) float64 { return ramp(t, 50, 1, 280e3, 40e3) }, 42 * s, 0, 0, 0, 0, 0, true},
	} {
		t.Run(name, func(t *testing.T) {
			c, ok := findChange(frame.InletPressure, course(4000, x.level), 0, x.at, x.at+lookOn)
			require.Equal(t, !x.none, ok)
			if x.none {
				return
			}
			require.InDelta(t, x.before, c.Before, 0.02*280e3)
			require.InDelta(t, x.after, c.After, 0.02*280e3)
			require.InDelta(t, x.left.Seconds(), c.Left.Seconds(), x.within.Seconds())
			require.InDelta(t, x.reached.Seconds(), c.Reached.Seconds(), x.within.Seconds())
		})
	}
	_, ok := findChange(frame.Running, course(100, func(float64) float64 { return 1 }), 0, 5*s, 9*s)
	require.False(t, ok, "what is on or off has no level")
	_, ok = findChange(frame.NumChannels, nil, 0, 5*s, 9*s)
	require.False(t, ok)
}

// TestChangeHoldsItsWord: whatever the readings are, a change that is found has
// an order of times, levels that differ by what is worth telling, and medians
// that its own spans give.
func TestChangeHoldsItsWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var in []point
		at, y := time.Duration(0), 250e3
		for range rapid.IntRange(0, 600).Draw(t, "n") {
			at += time.Duration(rapid.IntRange(1, 300).Draw(t, "ms")) * time.Millisecond
			y += rapid.SampledFrom([]float64{0, 0, 0, 500, -500, 4e3, -4e3, -60e3}).Draw(t, "by")
			st := rapid.SampledFrom([]frame.Status{frame.Good, frame.Good, frame.Good, frame.Service, frame.Stale}).Draw(t, "status")
			in = append(in, point{at, frame.Sample{Value: y, Status: st}})
		}
		alarm := time.Duration(rapid.Int64Range(0, int64(at)+1).Draw(t, "alarm"))
		c, ok := findChange(frame.InletPressure, in, 0, alarm, at)
		if !ok {
			return
		}
		require.LessOrEqual(t, c.BeforeFrom, c.BeforeTo)
		require.LessOrEqual(t, c.Left, c.Reached)
		require.LessOrEqual(t, c.Reached, c.AfterTo)
		require.GreaterOrEqual(t, math.Abs(c.After-c.Before), worths[frame.InletPressure].from(c.Before))
		for _, side := range []struct {
			from, to time.Duration
			v        float64
			n        int
		}{{c.BeforeFrom, c.BeforeTo, c.Before, c.BeforeCount}, {c.AfterFrom, c.AfterTo, c.After, c.AfterCount}} {
			var ys []float64
			for _, x := range in {
				if x.T >= side.from && x.T <= side.to && x.Sample.OK() {
					ys = append(ys, x.Sample.Value)
				}
			}
			require.Len(t, ys, side.n)
			require.Equal(t, median(ys), side.v)
		}
	})
}

// TestMedian by its definition: the middle one, or half of the two in the middle.
// Tell and Verify share it, so neither can check the other's.
func TestMedian(t *testing.T) {
	for _, x := range []struct {
		in   []float64
		want float64
	}{
		{[]float64{7}, 7}, {[]float64{3, 1}, 2}, {[]float64{9, 1, 5}, 5}, {[]float64{4, 1, 3, 2}, 2.5},
		{[]float64{1, 1, 1, 100}, 1}, {[]float64{math.MaxFloat64, math.MaxFloat64}, math.MaxFloat64},
	} {
		require.Equal(t, x.want, median(append([]float64(nil), x.in...)), "%v", x.in)
	}
}

// point is one sample with its time.
type point struct {
	T      time.Duration
	Sample frame.Sample
}

// findChange looks for a change among samples, as the teller does among frames.
func findChange(ch frame.Channel, frames []point, from, at, to time.Duration) (c Change, ok bool) {
	if ch >= frame.NumChannels || worths[ch].least == 0 {
		return c, false
	}
	var s series
	for i := range frames {
		if n := len(s.t); n == 0 || frames[i].T > s.t[n-1] {
			s.add(frames[i].T, frames[i].Sample)
		}
	}
	return s.change(ch, within{from, at, to})
}
