package switches

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/gpiochip"
	"headroom/sensors/gpiochip/bounded"
)

// Switch is one input line and the channel it feeds.
type Switch struct {
	// Chip and Line as in gpiochip.InputRequest.
	Chip string
	Line gpiochip.Line
	// Channel must be a digital one: running, trigger or power_present.
	Channel frame.Channel
	// ActiveLow makes a low line mean "on".
	ActiveLow bool
	// Bias of the line.
	Bias gpiochip.Bias
	// Debounce, at most 1 s; 0 is 20 ms, which suits contacts and relays
	// (common practice, no source). Below 0 means none.
	Debounce time.Duration
}

// Options of the inputs. Zero values take the default that stands with the
// field.
type Options struct {
	// Lines hands out the lines; gpiochip.Linux{} on a real board.
	Lines gpiochip.Requester
	// Switches, at least one, each channel once.
	Switches []Switch
	// Period between readings without a change, 10 ms to 5 s; default 500 ms.
	Period time.Duration
}

// callLimit is how long the kernel may take for a request or a level. A line
// behind a hung bus would take for ever.
const callLimit = 2 * time.Second

// chatter is how many changes within chatterTime make a reading suspect: a foot
// pedal is not pressed five times a second. Our judgement, no source.
const (
	chatter     = 10
	chatterTime = time.Second
)

// Driver is a set of inputs.
type Driver struct {
	opts  Options
	slots []bounded.Slot // one per switch: lines may be on different chips
}

var _ sensors.Driver = (*Driver)(nil)

// New checks the options. No line is touched before Run.
func New(o Options) (*Driver, error) {
	if o.Period == 0 {
		o.Period = 500 * time.Millisecond
	}
	o.Switches = append([]Switch(nil), o.Switches...)
	for i := range o.Switches {
		if o.Switches[i].Debounce == 0 {
			o.Switches[i].Debounce = 20 * time.Millisecond
		}
	}
	if err := o.check(); err != nil {
		return nil, fmt.Errorf("cannot read switches: %w", err)
	}
	return &Driver{opts: o, slots: make([]bounded.Slot, len(o.Switches))}, nil
}

func (o Options) check() error {
	switch {
	case o.Lines == nil:
		return errors.New("option Lines is missing: give gpiochip.Linux{}")
	case len(o.Switches) == 0:
		return errors.New("option Switches is empty: name at least one line")
	case o.Period < 10*time.Millisecond || o.Period > 5*time.Second:
		return fmt.Errorf("option Period is %v: it must be 10ms to 5s", o.Period)
	}
	var seen [frame.NumChannels]bool
	for _, s := range o.Switches {
		if !s.Channel.Digital() {
			return fmt.Errorf("%s can't feed the channel %s: it is no on/off input", s.Line, s.Channel)
		}
		if seen[s.Channel] {
			return fmt.Errorf("two switches feed the channel %s: one must go", s.Channel)
		}
		seen[s.Channel] = true
		if err := s.request().Check(); err != nil {
			return fmt.Errorf("%s for %s: %w", s.Line, s.Channel, err)
		}
	}
	return nil
}

func (s Switch) request() gpiochip.InputRequest {
	return gpiochip.InputRequest{
		Chip: s.Chip, Line: s.Line, Consumer: "headroom " + s.Channel.String(),
		ActiveLow: s.ActiveLow, Bias: s.Bias, Edges: gpiochip.BothEdges, Debounce: max(s.Debounce, 0), Buffer: 64,
	}
}

// Name tells which lines.
func (d *Driver) Name() string {
	name := "switches on"
	for _, s := range d.opts.Switches {
		name += " " + s.Line.String()
	}
	return name
}

// Channels lists the switches' channels in the order of the options.
func (d *Driver) Channels() []frame.Channel {
	out := make([]frame.Channel, len(d.opts.Switches))
	for i, s := range d.opts.Switches {
		out[i] = s.Channel
	}
	return out
}

// Run posts each switch at every change and every Period until ctx ends. It
// returns an error when a line can't be had or is gone.
func (d *Driver) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	some, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var all sync.WaitGroup
	for i := range d.opts.Switches {
		all.Go(func() {
			if err := d.watch(some, i, clock, post); err != nil {
				cancel(err)
			}
		})
	}
	all.Wait()
	if ctx.Err() != nil {
		return nil
	}
	return context.Cause(some)
}

// watch reads one switch. A panic here would end the program, so it becomes an
// error, as the supervisor does for Run itself.
func (d *Driver) watch(ctx context.Context, i int, clock func() time.Duration, post func(sensors.Reading)) (err error) {
	s, slot := d.opts.Switches[i], &d.slots[i]
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("switch %s broke: %v", s.Line, p)
		}
	}()
	in, err := bounded.Do(slot, callLimit,
		func() (gpiochip.Input, error) { return d.opts.Lines.Input(s.request()) },
		func(late gpiochip.Input) { _ = late.Close() })
	if err != nil {
		return fmt.Errorf("cannot read the switch %s: %w", s.Line, err)
	}
	defer in.Close()
	w := watcher{s: s, in: in, slot: slot, clock: clock}
	next := clock()
	for ctx.Err() == nil {
		at, changed, err := w.wait(min(max(next-clock(), time.Millisecond), 100*time.Millisecond))
		if err == nil && (changed || clock() >= next) {
			err = w.post(at, post)
			next = clock() + d.opts.Period
		}
		if err != nil {
			return fmt.Errorf("cannot read the switch %s: %w", s.Line, err)
		}
	}
	return nil
}

// watcher is one switch during one run.
type watcher struct {
	s       Switch
	in      gpiochip.Input
	slot    *bounded.Slot
	clock   func() time.Duration
	changes [chatter]time.Duration // when the last ones came, a ring
	n       int
	buf     [64]gpiochip.Event
}

// wait waits for edges and returns when the last was, or now without any.
func (w *watcher) wait(most time.Duration) (at time.Duration, changed bool, err error) {
	n, err := w.in.Read(w.buf[:], most)
	now := w.clock()
	if err != nil || n == 0 {
		return now, false, err
	}
	kernelNow := w.in.Now()
	for _, e := range w.buf[:n] {
		at = now - max(kernelNow-e.At, 0)
		w.changes[w.n%chatter] = at
		w.n++
	}
	return at, true, nil
}

func (w *watcher) post(at time.Duration, post func(sensors.Reading)) error {
	on, err := bounded.Do(w.slot, callLimit, w.in.Value, nil)
	if err != nil {
		return err
	}
	r := sensors.Reading{Channel: w.s.Channel, At: at, Sample: frame.Sample{Status: frame.Good}}
	if on {
		r.Sample.Value = 1
	}
	// The oldest of the last few changes tells how quickly they came.
	if w.n >= chatter && w.clock()-w.changes[w.n%chatter] < chatterTime {
		r.Sample.Status = frame.Suspect
		r.Note = fmt.Sprintf("%s changes more than %d times a second: loose wire or worn contact", w.s.Line, chatter)
	}
	post(r)
	return nil
}
