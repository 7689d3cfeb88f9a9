package csvfile_test

import (
	"context"
	"errors"
	"io"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/csvfile"
)

const played = "t,a,b\n0,1,\n1,2,5\n3,n/a,6\n"

func playedMap() csvfile.Map {
	return csvfile.Map{Time: csvfile.TimeColumn{Column: "t"}, Columns: []csvfile.Column{column("a", frame.Flow), column("b", frame.WaterTemp)}}
}

func opener(text string) func() (io.ReadCloser, error) {
	return func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(text)), nil }
}

// play runs the driver for a while of simulated time.
func play(t *testing.T, d *csvfile.Driver, lasting time.Duration) (out []sensors.Reading, err error) {
	t.Helper()
	start := time.Now()
	ctx, cancel := context.WithTimeout(t.Context(), lasting)
	defer cancel()
	err = d.Run(ctx, func() time.Duration { return time.Since(start) }, func(r sensors.Reading) { out = append(out, r) })
	require.Error(t, ctx.Err(), "Run must last as long as its context")
	return out, err
}

func TestDriverPlaysAtTheRecordedPace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, err := csvfile.NewDriver("x.csv", opener(played), playedMap(), csvfile.DriverOptions{})
		require.NoError(t, err)
		require.Equal(t, []frame.Channel{frame.Flow, frame.WaterTemp}, d.Channels())
		require.Equal(t, "recording x.csv", d.Name())
		out, err := play(t, d, time.Minute)
		require.NoError(t, err)
		missing := frame.Sample{Status: frame.Missing}
		good := func(v float64) frame.Sample { return frame.Sample{Value: v, Status: frame.Good} }
		const none, ended = "no reading, as recorded", "the recording has ended"
		require.Equal(t, []sensors.Reading{
			{Channel: frame.Flow, Sample: good(1)},
			{Channel: frame.WaterTemp, Sample: missing, Note: none},
			{Channel: frame.Flow, Sample: good(2), At: time.Second},
			{Channel: frame.WaterTemp, Sample: good(5), At: time.Second},
			{Channel: frame.Flow, Sample: missing, At: 3 * time.Second, Note: none},
			{Channel: frame.WaterTemp, Sample: good(6), At: 3 * time.Second},
			{Channel: frame.Flow, Sample: missing, At: 3 * time.Second, Note: ended},
			{Channel: frame.WaterTemp, Sample: missing, At: 3 * time.Second, Note: ended},
		}, out)
	})
}

func TestDriverLoopsFaster(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, err := csvfile.NewDriver("x.csv", opener(played), playedMap(), csvfile.DriverOptions{Speed: 2, Loop: true})
		require.NoError(t, err)
		out, err := play(t, d, 3900*time.Millisecond)
		require.NoError(t, err)
		var at []time.Duration
		for _, r := range out {
			if r.Channel == frame.Flow {
				at = append(at, r.At)
			}
		}
		// Rows at 0, 1 and 3 s twice as fast; the next round one last step on.
		require.Equal(t, []time.Duration{0, 5e8, 15e8, 25e8, 30e8}, at)
	})
}

func TestDriverOfOneRowDoesNotSpin(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, err := csvfile.NewDriver("x.csv", opener("t,a,b\n0,1,2\n"), playedMap(), csvfile.DriverOptions{Loop: true})
		require.NoError(t, err)
		out, err := play(t, d, 1050*time.Millisecond)
		require.NoError(t, err)
		require.Len(t, out, 2*11)
	})
}

func TestDriverLeavesStaleToTheBoard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const own = "t_ns,wall,flow_m3s,flow_status,water_temp_k,water_temp_status\n7000000000,,1,stale,280,stuck\n"
		d, err := csvfile.NewDriver("x.csv", opener(own), csvfile.Map{}, csvfile.DriverOptions{})
		require.NoError(t, err)
		out, err := play(t, d, time.Second)
		require.NoError(t, err)
		require.Equal(t, sensors.Reading{Channel: frame.WaterTemp, Sample: frame.Sample{Value: 280, Status: frame.Failed}, Note: "stuck, as recorded"}, out[0])
		require.Equal(t, "the recording has ended", out[1].Note)
	})
}

func TestDriverErrors(t *testing.T) {
	gone := errors.New("no such file")
	_, err := csvfile.NewDriver("x.csv", func() (io.ReadCloser, error) { return nil, gone }, playedMap(), csvfile.DriverOptions{})
	require.ErrorIs(t, err, gone)
	_, err = csvfile.NewDriver("x.csv", opener(played), playedMap(), csvfile.DriverOptions{Speed: -1})
	require.ErrorContains(t, err, "speed -1")

	d, err := csvfile.NewDriver("x.csv", opener("t,a,b\n"), playedMap(), csvfile.DriverOptions{Loop: true})
	require.NoError(t, err)
	err = d.Run(t.Context(), func() time.Duration { return 0 }, func(sensors.Reading) {})
	require.ErrorContains(t, err, "no usable row")

	var opened atomic.Int32
	d, err = csvfile.NewDriver("x.csv", func() (io.ReadCloser, error) {
		if opened.Add(1) > 1 {
			return nil, gone
		}
		return opener(played)()
	}, playedMap(), csvfile.DriverOptions{})
	require.NoError(t, err)
	require.ErrorIs(t, d.Run(t.Context(), func() time.Duration { return 0 }, nil), gone)
}

// A clock that goes faster than life: the rows stand on it where they stood in
// the recording, and life waits as much less.
func TestDriverOnAFastClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, err := csvfile.NewDriver("x.csv", opener(played), playedMap(), csvfile.DriverOptions{ClockSpeed: 4, Loop: true, Rest: 6 * time.Second})
		require.NoError(t, err)
		start := time.Now()
		ctx, cancel := context.WithTimeout(t.Context(), 3400*time.Millisecond)
		defer cancel()
		clock := func() time.Duration { return 4 * time.Since(start) }
		var at []time.Duration
		require.NoError(t, d.Run(ctx, clock, func(r sensors.Reading) {
			if r.Channel == frame.Flow {
				at = append(at, r.At)
				require.Equal(t, r.At == 11*time.Second, d.Resting(), "from the end of a round to the first row of the next")
			}
		}))
		// 0, 1 and 3 s; the next round a last step of 2 s and a rest of 6 s on.
		require.Equal(t, []time.Duration{0, 1e9, 3e9, 11e9, 12e9}, at)
		require.False(t, d.Resting())
	})
}
