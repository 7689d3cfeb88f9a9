package hardware

import (
	"context"
	"log/slog"
	"sync/atomic"
	"time"

	"headroom/daemon/config"
	"headroom/sensors"
	"headroom/sensors/gpiochip"
	"headroom/sensors/gpiochip/bounded"
)

const (
	// lookEvery is how often a button is looked at, steadyLooks how often in a
	// row it must look the same: 40 ms, which contacts have settled in (common
	// practice, no source).
	lookEvery   = 20 * time.Millisecond
	steadyLooks = 2
	// buttonLimit is how long the kernel may take.
	buttonLimit = time.Second
)

// button is an input that a person presses. It counts as pressed only after it
// has been seen up since its line was opened, so that a button that hangs does
// nothing, also when its chip comes and goes.
type button struct {
	name  string
	cfg   config.Button
	lines gpiochip.Requester
	log   *slog.Logger
	slot  bounded.Slot
	down  atomic.Bool
}

func newButton(name string, c config.Button, lines gpiochip.Requester, log *slog.Logger) *button {
	return &button{name: name, cfg: c, lines: lines, log: log}
}

// pressed reports whether a person presses it now; false while it can't be
// read.
func (b *button) pressed() bool { return b.down.Load() }

// run looks at the button until ctx ends.
func (b *button) run(ctx context.Context) {
	for pause := firstPause; ctx.Err() == nil; pause = min(2*pause, lastPause) {
		err := b.watch(ctx)
		b.down.Store(false)
		if err != nil {
			b.log.Warn("button can't be read, trying again", "button", b.name, "error", err, "pause", pause)
			sensors.Pause(ctx, pause)
		}
	}
}

func (b *button) request() gpiochip.InputRequest {
	g := b.cfg.GPIO
	return gpiochip.InputRequest{Chip: g.Chip, Line: line(g), Consumer: "headroom " + b.name, ActiveLow: g.ActiveLow, Bias: bias(g)}
}

func (b *button) watch(ctx context.Context) error {
	in, err := bounded.Do(&b.slot, buttonLimit,
		func() (gpiochip.Input, error) { return b.lines.Input(b.request()) },
		func(late gpiochip.Input) { _ = late.Close() })
	if err != nil {
		return err
	}
	defer in.Close()
	seenUp, last, same := false, false, 0
	for ctx.Err() == nil {
		down, err := bounded.Do(&b.slot, buttonLimit, in.Value, nil)
		if err != nil {
			return err
		}
		if down != last {
			last, same = down, 0
		}
		if same++; same >= steadyLooks {
			seenUp = seenUp || !down
			b.down.Store(down && seenUp)
		}
		sensors.Pause(ctx, lookEvery)
	}
	return nil
}
