package sensors

import (
	"context"
	"errors"
	"log/slog"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
)

// failing is a driver that runs for the next of these times and then fails.
type failing struct {
	runs   []time.Duration
	starts []time.Time
}

func (*failing) Name() string              { return "failing" }
func (*failing) Channels() []frame.Channel { return []frame.Channel{frame.Flow} }

func (f *failing) Run(ctx context.Context, _ func() time.Duration, _ func(Reading)) error {
	f.starts = append(f.starts, time.Now())
	if len(f.runs) == 0 {
		<-ctx.Done()
		return nil
	}
	run := f.runs[0]
	f.runs = f.runs[1:]
	time.Sleep(run)
	return errors.New("gone")
}

// TestPausesGrowAndStartAgain: a plug that is off for long is asked for every
// ten seconds, and one that comes off after hours of good work is asked for
// again at once.
func TestPausesGrowAndStartAgain(t *testing.T) {
	s := time.Second
	ms := time.Millisecond
	for name, c := range map[string]struct {
		runs, pauses []time.Duration
	}{
		"fails at once":             {make([]time.Duration, 8), []time.Duration{250 * ms, 500 * ms, s, 2 * s, 4 * s, 8 * s, 10 * s, 10 * s}},
		"good for hours":            {[]time.Duration{0, 0, 0, 0, 0, 0, 0, 3 * time.Hour, 0}, []time.Duration{250 * ms, 500 * ms, s, 2 * s, 4 * s, 8 * s, 10 * s, 250 * ms, 500 * ms}},
		"good for just long enough": {[]time.Duration{0, 0, steadyAfter}, []time.Duration{250 * ms, 500 * ms, 250 * ms}},
		"good for too short":        {[]time.Duration{0, 0, steadyAfter - ms}, []time.Duration{250 * ms, 500 * ms, s}},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				begin := time.Now()
				sup := Supervisor{
					Board: NewBoard([frame.NumChannels]time.Duration{frame.Flow: time.Second}),
					Clock: func() time.Duration { return time.Since(begin) }, Log: slog.New(slog.DiscardHandler),
				}
				ctx, stop := context.WithCancel(t.Context())
				d := &failing{runs: c.runs}
				done := make(chan struct{})
				go func() { defer close(done); sup.Run(ctx, d) }()
				time.Sleep(4 * time.Hour)
				stop()
				<-done
				var pauses []time.Duration
				for i, run := range c.runs {
					pauses = append(pauses, d.starts[i+1].Sub(d.starts[i])-run)
				}
				require.Equal(t, c.pauses, pauses)
				require.EqualValues(t, len(c.runs), sup.Restarts())
			})
		})
	}
}
