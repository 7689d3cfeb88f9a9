package sensors_test

import (
	"context"
	"errors"
	"log/slog"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/sensors"
)

func board() *sensors.Board {
	var stale [frame.NumChannels]time.Duration
	stale[frame.Flow], stale[frame.WaterTemp] = time.Second, 5*time.Second
	return sensors.NewBoard(stale)
}

func good(c frame.Channel, v float64, at time.Duration) sensors.Reading {
	return sensors.Reading{Channel: c, Sample: frame.Sample{Value: v, Status: frame.Good}, At: at}
}

func TestBoardTellsWhatItKnows(t *testing.T) {
	b := board()
	var f frame.Frame
	b.Frame(0, &f)
	require.Equal(t, frame.NotFitted, f.Samples[frame.MotorCurrent].Status)
	require.Equal(t, frame.Missing, f.Samples[frame.Flow].Status)

	b.Post(good(frame.Flow, 1e-4, 0))
	b.Post(good(frame.MotorCurrent, 5, 0)) // not fitted: dropped
	b.Frame(time.Second, &f)
	require.Equal(t, frame.Sample{Value: 1e-4, Status: frame.Good}, f.Samples[frame.Flow])
	require.Equal(t, frame.NotFitted, f.Samples[frame.MotorCurrent].Status)
	b.Frame(time.Second+1, &f)
	require.Equal(t, frame.Sample{Value: 1e-4, Status: frame.Stale}, f.Samples[frame.Flow], "the value stays, for evidence")

	b.Post(sensors.Reading{Channel: frame.Flow, At: 2 * time.Second, Sample: frame.Sample{Value: 5e-4, Status: frame.OutOfBand}})
	b.Frame(3*time.Second, &f)
	require.Equal(t, frame.Sample{Value: 5e-4, Status: frame.OutOfBand}, f.Samples[frame.Flow], "a bound travels")
	b.Frame(3*time.Second+1, &f)
	require.Equal(t, frame.Stale, f.Samples[frame.Flow].Status, "and grows old")

	b.Post(good(frame.Flow, 2e-4, 3*time.Second))
	b.Post(good(frame.Flow, 9e-4, 2*time.Second)) // late: dropped
	b.Frame(3*time.Second, &f)
	require.Equal(t, 2e-4, f.Samples[frame.Flow].Value)

	b.Fail(4*time.Second, "wire off", frame.Flow, frame.MotorCurrent)
	b.Frame(4*time.Second, &f)
	require.Equal(t, frame.Failed, f.Samples[frame.Flow].Status)
	require.Equal(t, "wire off", b.Notes()[frame.Flow])
	require.Equal(t, frame.NotFitted, f.Samples[frame.MotorCurrent].Status)
}

// flaky fails its first runs, panics once, and then stays up.
type flaky struct{ runs int }

func (d *flaky) Name() string              { return "flaky" }
func (d *flaky) Channels() []frame.Channel { return []frame.Channel{frame.Flow} }

func (d *flaky) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	d.runs++
	switch d.runs {
	case 1:
		return errors.New("cable pulled")
	case 2:
		panic("index out of range")
	case 3:
		return nil
	}
	post(good(frame.Flow, 1e-4, clock()))
	<-ctx.Done()
	return nil
}

func TestSupervisorBringsADriverBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		clock := func() time.Duration { return time.Since(start) }
		b, d := board(), &flaky{}
		s := &sensors.Supervisor{Board: b, Clock: clock, Log: slog.New(slog.DiscardHandler)}
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() { s.Run(ctx, d); close(done) }()

		var f frame.Frame
		synctest.Wait()
		b.Frame(clock(), &f)
		require.Equal(t, frame.Failed, f.Samples[frame.Flow].Status)
		require.Equal(t, "cable pulled", b.Notes()[frame.Flow])

		time.Sleep(250 * time.Millisecond)
		synctest.Wait()
		require.Contains(t, b.Notes()[frame.Flow], "broke: index out of range")
		time.Sleep(500 * time.Millisecond)
		synctest.Wait()
		require.Contains(t, b.Notes()[frame.Flow], "ended by itself")
		time.Sleep(time.Second)
		synctest.Wait()
		b.Frame(clock(), &f)
		require.Equal(t, frame.Good, f.Samples[frame.Flow].Status)
		require.Empty(t, b.Notes()[frame.Flow])
		require.EqualValues(t, 3, s.Restarts())

		cancel()
		<-done
	})
}
