package outputs

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"headroom/sensors/gpiochip"
	"headroom/sensors/gpiochip/bounded"
)

const (
	// step is how often the keeper looks at the clock.
	step = 25 * time.Millisecond
	// requestLimit and setLimit are how long the kernel may take.
	requestLimit = 2 * time.Second
	setLimit     = 250 * time.Millisecond
	// askEvery is how often a line that stays as it is is asked whether it is
	// still there. A relay may stand for a whole job, and a person must not
	// learn only when it has to open that nobody can move it any more.
	askEvery = time.Second
)

// Command is what the tick wants of the outputs.
type Command struct {
	Signal
	// Run is the latch's word; without a stop relay it changes nothing.
	Run bool
}

// Keeper holds the lines. The tick calls Refresh; Run moves the lines in a
// goroutine of its own.
type Keeper struct {
	opts Options
	// slots has one place for a hanging call per output, so that a beacon on a
	// hung expander can't keep the relay from being moved.
	slots map[string]*bounded.Slot

	mu        sync.Mutex
	command   Command
	refreshed time.Time // zero: never in this run
	tripped   bool      // the relay stays open until Run=false has been commanded
	dropped   bool
	began     bool // a run has begun before
	level     map[string]bool
}

// New checks the options. No line is touched before Run.
func New(o Options) (*Keeper, error) {
	if o.KeepAlive == 0 {
		o.KeepAlive = time.Second
	}
	if err := o.check(); err != nil {
		return nil, fmt.Errorf("cannot drive outputs: %w", err)
	}
	k := &Keeper{opts: o, level: map[string]bool{}, slots: map[string]*bounded.Slot{}}
	for _, n := range o.all() {
		k.slots[n.name] = &bounded.Slot{}
	}
	return k, nil
}

// Refresh gives the newest command and proves that the tick is alive. It never
// blocks. It must come more often than KeepAlive.
func (k *Keeper) Refresh(c Command) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.expire(time.Now())
	k.command, k.refreshed = c, time.Now()
	if !c.Run {
		k.tripped, k.dropped = false, false
	}
}

// Dropped reports whether the outputs went to their safe state by themselves.
// It stays true, and the stop relay open, until a command with Run false has
// come: hand it to LatchInput.Dropped and the latch will give that command.
func (k *Keeper) Dropped() bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.dropped
}

// Energised returns the level each output was last commanded to, by role, for
// a status page. It is our own record: an output is never read.
func (k *Keeper) Energised() (beacon, horn, stop bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.level["beacon"], k.level["horn"], k.level["stop relay"]
}

// expire trips when the command is too old. The caller holds the lock.
func (k *Keeper) expire(now time.Time) {
	if !k.refreshed.IsZero() && now.Sub(k.refreshed) > k.opts.KeepAlive {
		k.refreshed = time.Time{}
		k.trip()
	}
}

func (k *Keeper) trip() { k.tripped, k.dropped = true, true }

// Run requests the lines in their safe state and keeps them until ctx ends. On
// the way out, for whatever reason, they are set to their safe state and given
// back. An error means that a line can't be had, is gone or hangs; after the
// next call of Run the relay stays open until Run=false has been commanded.
func (k *Keeper) Run(ctx context.Context) (err error) {
	k.mu.Lock()
	if k.began {
		k.trip()
	}
	k.began, k.refreshed = true, time.Time{}
	k.mu.Unlock()
	lines, err := k.request()
	defer func() { err = errors.Join(err, k.release(lines)) }()
	if err != nil {
		return err
	}
	began := time.Now()
	ticker := time.NewTicker(step)
	defer ticker.Stop()
	for {
		if err := k.move(lines, began); err != nil {
			return err
		}
		select {
		case <-ctx.Done():
			return nil
		case <-ticker.C:
		}
	}
}

// held is a line and the level it has.
type held struct {
	named
	out     gpiochip.Output
	on      bool
	pattern Pattern
	since   time.Time // when the pattern began
	asked   time.Time // when the line was last known to be there
}

func (k *Keeper) request() (lines []*held, err error) {
	for _, n := range k.opts.all() {
		out, err := bounded.Do(k.slots[n.name], requestLimit,
			func() (gpiochip.Output, error) { return k.opts.Lines.Output(n.request()) },
			func(late gpiochip.Output) { _ = late.Close() })
		if err != nil {
			return lines, fmt.Errorf("cannot have the %s: %w", n.name, err)
		}
		lines = append(lines, &held{named: n, out: out, on: n.safe, asked: time.Now()})
		k.record(n.name, n.safe)
	}
	return lines, nil
}

func (k *Keeper) record(name string, on bool) {
	k.mu.Lock()
	k.level[name] = on
	k.mu.Unlock()
}

// current is the command to follow now; ok is false for the safe state.
func (k *Keeper) current(now time.Time) (c Command, ok bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.expire(now)
	c = k.command
	c.Run = c.Run && !k.tripped
	return c, !k.refreshed.IsZero()
}

func (k *Keeper) move(lines []*held, began time.Time) error {
	now := time.Now()
	c, ok := k.current(now)
	for _, h := range lines {
		on := h.safe
		if ok {
			on = k.wanted(h, c, now, began)
		}
		if err := k.set(h, on); err != nil {
			return err
		}
	}
	return nil
}

// wanted is the level that a command asks of a line. A pattern that is new
// begins with its lit part.
func (k *Keeper) wanted(h *held, c Command, now, began time.Time) bool {
	p := c.Beacon
	switch h.name {
	case "stop relay":
		return k.relay(c.Run, now.Sub(began))
	case "horn":
		p = c.Horn
	}
	if p != h.pattern {
		h.pattern, h.since = p, now
	}
	return p.Lit(now.Sub(h.since))
}

func (k *Keeper) relay(run bool, t time.Duration) bool {
	s := k.opts.Stop
	switch {
	case s.Polarity == EnergisedStops:
		return !run
	case run && s.PulseEvery > 0:
		return t/s.PulseEvery%2 == 0
	}
	return run
}

// set drives a line if its level changes, and else asks now and then whether it
// is still there. A call that hangs is left behind, and
// the keeper gives up: a relay that can't be moved must not look kept.
func (k *Keeper) set(h *held, on bool) error {
	if h.on == on {
		return k.ask(h)
	}
	_, err := bounded.Do(k.slots[h.name], setLimit, func() (struct{}, error) { return struct{}{}, h.out.Set(on) }, nil)
	if err != nil {
		return fmt.Errorf("cannot set the %s: %w", h.name, err)
	}
	h.on, h.asked = on, time.Now()
	k.record(h.name, on)
	return nil
}

func (k *Keeper) ask(h *held) error {
	if time.Since(h.asked) < askEvery {
		return nil
	}
	h.asked = time.Now()
	_, err := bounded.Do(k.slots[h.name], setLimit, func() (struct{}, error) { return struct{}{}, h.out.Alive() }, nil)
	if err != nil {
		return fmt.Errorf("cannot keep the %s: %w", h.name, err)
	}
	return nil
}

// release sets every line to its safe level and gives it back. It goes on
// after an error: the next line may still be movable. The stop relay is the
// first in the list.
func (k *Keeper) release(lines []*held) (err error) {
	for _, h := range lines {
		err = errors.Join(err, k.set(h, h.safe))
		_, e := bounded.Do(k.slots[h.name], setLimit, func() (struct{}, error) { return struct{}{}, h.out.Close() }, nil)
		if e != nil && !errors.Is(e, bounded.ErrBusy) {
			err = errors.Join(err, fmt.Errorf("cannot give the %s back: %w", h.name, e))
		}
	}
	return err
}
