package adc

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"headroom/rules/frame"
	"headroom/sensors"
)

// Driver reads the converters on one bus. It implements sensors.Driver.
type Driver struct {
	opt      Options
	budget   Budget
	inputs   []*input
	lanes    []*lane
	channels []frame.Channel
	line     line

	post func(sensors.Reading)

	mu    sync.Mutex // guards every input's stats
	clock func() time.Duration
}

// New checks the options and makes a driver. It touches no bus. An error names
// the option and the mend; when the inputs don't fit the scan period it says
// what would.
func New(opt Options) (*Driver, error) {
	opt = opt.withDefaults()
	if err := opt.validate(); err != nil {
		return nil, fmt.Errorf("cannot set up the converters %q: %w", opt.Name, err)
	}
	budget, err := opt.checkBudget()
	if err != nil {
		return nil, fmt.Errorf("cannot set up the converters %q: %w", opt.Name, err)
	}
	d := &Driver{opt: opt, budget: budget, line: line{bus: opt.Bus, timeout: opt.Timeout}}
	for _, c := range opt.Chips {
		d.addChip(c)
	}
	for _, in := range d.inputs {
		in.ref = slices.IndexFunc(d.inputs, func(r *input) bool { return r.opt.Name == in.opt.Reference })
	}
	return d, nil
}

// addChip makes the chip's lane: supplies first, then plain inputs, then the
// block, so that a supply is measured ahead of whom it feeds.
func (d *Driver) addChip(c Chip) {
	l := &lane{addr: c.Addr, alone: c.alone()}
	for _, first := range []bool{true, false} {
		for _, o := range c.Inputs {
			if o.Block != nil || d.isReference(o.Name) != first {
				continue
			}
			l.slow = append(l.slow, d.addInput(o, c))
		}
	}
	for _, o := range c.Inputs {
		if o.Block != nil {
			l.block = newBlock(d.addInput(o, c), d.opt)
		}
	}
	d.lanes = append(d.lanes, l)
}

func (d *Driver) isReference(name string) bool {
	for _, c := range d.opt.Chips {
		for _, in := range c.Inputs {
			if in.Reference == name {
				return true
			}
		}
	}
	return false
}

func (d *Driver) addInput(o Input, c Chip) *input {
	in := newInput(o, c)
	d.inputs = append(d.inputs, in)
	d.channels = append(d.channels, o.posts()...)
	return in
}

// Name implements sensors.Driver.
func (d *Driver) Name() string { return d.opt.Name }

// Channels implements sensors.Driver.
func (d *Driver) Channels() []frame.Channel { return slices.Clone(d.channels) }

// Budget returns the times of a scan as New computed them.
func (d *Driver) Budget() Budget { return d.budget }

// Run implements sensors.Driver. A chip that doesn't answer fails its own
// channels and is tried again with every scan; when none answers, or a
// transfer hangs, Run returns an error. It never waits longer than the time
// limit of one transfer, and after a return it begins with every chip anew.
func (d *Driver) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	if err := d.line.open(); err != nil {
		return err
	}
	defer d.line.close()
	d.clock, d.post = clock, post
	for _, l := range d.lanes {
		l.reset(clock())
	}
	for {
		l := d.next()
		if !d.wait(ctx, l.due) {
			return nil
		}
		err := d.step(l)
		if ctx.Err() != nil {
			return nil
		}
		if err != nil && (errors.Is(err, errHung) || d.allDown()) {
			return fmt.Errorf("cannot read any converter on %s: %w", d.opt.Bus, err)
		}
	}
}

func (d *Driver) allDown() bool {
	return !slices.ContainsFunc(d.lanes, func(l *lane) bool { return !l.down })
}

// next picks the lane whose turn it is: the one that is due first, unless a
// transfer for it would keep a chip that is being sampled waiting. A lane that
// is half a period late goes first all the same: on a bus that is slower than
// stated the block suffers and says so, and no other channel starves.
func (d *Driver) next() *lane {
	first := slices.MinFunc(d.lanes, func(a, b *lane) int { return int(a.due - b.due) })
	now := d.clock()
	if first.phase == sampling || now-first.due > d.opt.Period/2 {
		return first
	}
	end := max(first.due, now) + d.opt.readTime()
	for _, l := range d.lanes {
		if l.phase == sampling && l.due < end {
			return l
		}
	}
	return first
}

// napMax is the longest wait that isn't left to a timer and so to ctx.
const napMax = 5 * time.Millisecond

// wait returns at the time due; false when ctx ended.
func (d *Driver) wait(ctx context.Context, due time.Duration) bool {
	for {
		left := due - d.clock()
		switch {
		case ctx.Err() != nil:
			return false
		case left <= 0:
			return true
		case left <= napMax:
			d.opt.nap(left)
		default:
			t := time.NewTimer(left - napMax/2)
			select {
			case <-ctx.Done():
			case <-t.C:
			}
			t.Stop()
		}
	}
}

var _ sensors.Driver = (*Driver)(nil)
