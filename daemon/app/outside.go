package app

import (
	"context"
	"fmt"
	"sync"
	"time"

	"headroom/rules/engine"
	"headroom/rules/words"
)

// Outputs are what the program switches, such as a beacon.
type Outputs interface {
	// Tick is given every step's outcome, in the tick itself: it must not
	// block. now is the program's monotonic time.
	Tick(v *engine.Verdicts, now time.Duration)
	// Run moves the lines until ctx ends, and leaves them in their safe state.
	Run(ctx context.Context)
}

// startOutputs runs the outputs until ctx ends or stop is called, which
// returns once they are safe.
func (a *App) startOutputs(ctx context.Context) (stop func()) {
	if a.opt.Outputs == nil {
		return func() {}
	}
	ctx, cancel := context.WithCancel(ctx)
	var all sync.WaitGroup
	all.Go(func() { a.opt.Outputs.Run(ctx) })
	return func() {
		cancel()
		all.Wait()
	}
}

// told is what the service manager knows; only the tick uses it.
type told struct {
	// status is the line it shows, untold is set while it can't be reached.
	status string
	untold bool
}

// feedsIn is how many signs of life the manager's patience has room for.
const feedsIn = 3

// tell gives one step's outcome to the outputs and to the service manager. It
// is the tick itself that does both, so that neither believes in a program
// whose tick stands still.
func (a *App) tell(v *engine.Verdicts, now time.Duration) {
	if a.opt.Outputs != nil {
		a.opt.Outputs.Tick(v, now)
	}
	if a.opt.Manager == nil {
		return
	}
	if a.seq == 1 {
		a.toManager(a.opt.Manager.Ready())
	}
	pace := float64(a.opt.Manager.Watchdog()) / feedsIn / (float64(a.opt.Tick) / a.opt.Speed)
	if every := max(uint64(pace), 1); pace > 0 && a.seq%every == 0 {
		a.toManager(a.opt.Manager.Alive())
	}
	if text := statusLine(v); text != a.told.status {
		a.told.status = text
		a.toManager(a.opt.Manager.Status(text))
	}
}

// statusLine is what the manager shows.
func statusLine(v *engine.Verdicts) string {
	text := fmt.Sprintf("%s, %s", v.Machine.Words(), v.Level.Words())
	for i := range v.Alarms {
		if s := &v.Alarms[i]; s.Active && s.Level == v.Level {
			return text + ": " + words.Alarm(engine.AlarmID(i)).Title
		}
	}
	return text
}

// toManager logs that the manager can't be told, once until it can.
func (a *App) toManager(err error) {
	if err != nil && !a.told.untold {
		a.log.Warn("service manager", "error", err)
	}
	a.told.untold = err != nil
}
