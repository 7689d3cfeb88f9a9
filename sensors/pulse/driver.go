package pulse

import (
	"context"
	"fmt"
	"sync/atomic"
	"time"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/gpiochip"
	"headroom/sensors/gpiochip/bounded"
)

// requestLimit is how long a request of the line may take; a chip behind a
// hung bus would take for ever.
const requestLimit = 2 * time.Second

// pollLimit is the longest wait for an edge, so that a stop is heard soon.
const pollLimit = 100 * time.Millisecond

// Driver is a flow meter or speed pick-up on a GPIO line.
type Driver struct {
	opts     Options
	slot     bounded.Slot
	pulses   atomic.Uint64
	lost     atomic.Uint64
	rejected atomic.Uint64
}

var _ sensors.Driver = (*Driver)(nil)

// New checks the options. No line is touched before Run.
func New(o Options) (*Driver, error) {
	o = o.withDefaults()
	if err := o.check(); err != nil {
		return nil, fmt.Errorf("cannot count pulses on %s: %w", o.Line, err)
	}
	return &Driver{opts: o}, nil
}

// Name tells which line.
func (d *Driver) Name() string { return fmt.Sprintf("%s pulses on %s", d.opts.Channel, d.opts.Line) }

// Channels lists the one channel.
func (d *Driver) Channels() []frame.Channel { return []frame.Channel{d.opts.Channel} }

// Counts returns the totals since New, over all runs. Safe for use at any time.
func (d *Driver) Counts() Counts {
	return Counts{d.pulses.Load(), d.lost.Load(), d.rejected.Load()}
}

// Run counts until ctx ends. It posts every Options.Period, also while no
// pulse comes. It returns an error when the line can't be had or is gone, and
// starts a new reckoning at the next call.
func (d *Driver) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	in, err := bounded.Do(&d.slot, requestLimit,
		func() (gpiochip.Input, error) { return d.opts.Lines.Input(d.opts.request()) },
		func(late gpiochip.Input) { _ = late.Close() })
	if err != nil {
		return fmt.Errorf("cannot count pulses on %s: %w", d.opts.Line, err)
	}
	defer in.Close()
	r := d.newRun(in)
	next := clock()
	for ctx.Err() == nil {
		if err := r.read(min(max(next-clock(), time.Millisecond), pollLimit)); err != nil {
			return fmt.Errorf("pulses on %s: %w", d.opts.Line, err)
		}
		now := clock()
		if now < next {
			continue
		}
		post(r.reading(now))
		// Readings that were missed are not made up for.
		next += d.opts.Period
		if next < now {
			next = now + d.opts.Period
		}
	}
	return nil
}

// run is one reckoning, from the request of the line to its end.
type run struct {
	d      *Driver
	in     gpiochip.Input
	train  train
	health health
	from   time.Duration
	buf    []gpiochip.Event
	full   bool // the last read filled buf: more events wait
	last   Counts
}

func (d *Driver) newRun(in gpiochip.Input) *run {
	now := in.Now()
	return &run{
		d: d, in: in, from: now, buf: make([]gpiochip.Event, 256),
		train: train{
			minPeriod: max(time.Duration(float64(time.Second)/d.opts.MaxHz/2), 1),
			window:    d.opts.Window, zeroAfter: d.opts.ZeroAfter,
		},
		health: health{from: now, status: frame.Good},
	}
}

func (r *run) read(wait time.Duration) error {
	n, err := r.in.Read(r.buf, wait)
	if err != nil {
		return err
	}
	for _, e := range r.buf[:n] {
		r.train.add(e)
	}
	r.full = n == len(r.buf)
	c := Counts{r.train.last.count, r.train.lost, r.train.rejected}
	r.d.pulses.Add(c.Pulses - r.last.Pulses)
	r.d.lost.Add(c.Lost - r.last.Lost)
	r.d.rejected.Add(c.Rejected - r.last.Rejected)
	r.last = c
	return nil
}

// reading is the state at now. While events still wait, their silence isn't
// known yet: the rate is then that of the last edge.
func (r *run) reading(at time.Duration) sensors.Reading {
	now := r.in.Now()
	if r.full {
		at -= max(now-r.train.last.at, 0)
		now = r.train.last.at
	}
	r.health.step(now, r.last)
	out := sensors.Reading{Channel: r.d.opts.Channel, At: at}
	hz, falling, ok := r.train.rate(now, r.from)
	if !ok {
		out.Sample.Status, out.Note = frame.Missing, "no rate yet: the first pulses are awaited"
		return out
	}
	value, clamped := r.d.value(hz)
	out.Sample = frame.Sample{Value: value, Status: r.health.status}
	out.Note = r.health.note
	switch {
	case hz > r.d.opts.MaxHz:
		out.Sample.Status = frame.OutOfBand
		out.Note = fmt.Sprintf("%.0f pulses a second, the part gives %.0f at most: interference on the wire, or air driving the meter", hz, r.d.opts.MaxHz)
	case clamped && !falling && out.Sample.Status == frame.Good:
		out.Sample.Status = frame.Service
		out.Note = fmt.Sprintf("%.3g pulses a second are outside the meter's K-factor table: the K-factor of its end is used", hz)
	}
	return out
}

func (d *Driver) value(hz float64) (v float64, clamped bool) {
	if d.opts.Channel == frame.Flow {
		return d.opts.K.Flow(hz)
	}
	return hz / d.opts.PulsesPerRev, false
}
