package sensors

import (
	"context"
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"
)

// The back-off between two tries of a driver that ends: short at first, since
// a plug is soon pushed back in, and never so long that a technician waits.
const (
	firstPause = 250 * time.Millisecond
	lastPause  = 10 * time.Second
	// steadyAfter is how long a driver must have run for its next failure to
	// start again with the first pause.
	steadyAfter = 30 * time.Second
)

// Supervisor runs drivers, each on its own, and starts again those that end.
type Supervisor struct {
	// Board takes the readings.
	Board *Board
	// Clock gives the monotonic time since the start.
	Clock func() time.Duration
	// Log takes one line for each change of a driver's state.
	Log *slog.Logger

	restarts atomic.Uint64
}

// Restarts counts how often a driver ended and was started again.
func (s *Supervisor) Restarts() uint64 { return s.restarts.Load() }

// Run keeps d running until ctx ends. While the driver is down its channels
// are failed on the board, with the reason.
func (s *Supervisor) Run(ctx context.Context, d Driver) {
	pause := firstPause
	for {
		began := s.Clock()
		err := runOnce(ctx, d, s.Clock, s.Board.Post)
		if ctx.Err() != nil {
			return
		}
		if s.Clock()-began >= steadyAfter {
			pause = firstPause
		}
		s.Board.Fail(s.Clock(), err.Error(), d.Channels()...)
		s.Log.Warn("driver ended, trying again", "driver", d.Name(), "error", err, "pause", pause)
		if !Pause(ctx, pause) {
			return
		}
		s.restarts.Add(1)
		pause = min(2*pause, lastPause)
	}
}

// runOnce turns every way a driver can end into an error: a driver that
// panics must cost its own channels and not the whole watch.
func runOnce(ctx context.Context, d Driver, clock func() time.Duration, post func(Reading)) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("driver %s broke: %v", d.Name(), p)
		}
	}()
	if err := d.Run(ctx, clock, post); err != nil {
		return err
	}
	return fmt.Errorf("driver %s ended by itself", d.Name())
}

// Pause waits for d, or until ctx ends; ok is false then. Any d is taken, 0 and
// less at once.
func Pause(ctx context.Context, d time.Duration) (ok bool) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-t.C:
		return true
	}
}
