package csvfile

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync/atomic"
	"time"

	"headroom/rules/frame"
	"headroom/sensors"
)

// DriverOptions of a recording that is played live.
type DriverOptions struct {
	// Speed is the pace on the clock that Run is given: 1 as recorded (also
	// when 0), 2 twice as fast.
	Speed float64
	// ClockSpeed is how much faster than life that clock itself goes; 0 is 1.
	ClockSpeed float64
	// Loop starts again at the end, one last step later and after Rest.
	Loop bool
	// Rest parts the end of one round from the start of the next on the clock,
	// and while it lasts Resting is true: what a machine does at a recording's
	// start follows from nothing at its end.
	Rest time.Duration
	// OnProblem is told of every row and cell that can't be used.
	OnProblem func(RowError)
}

// Driver plays a recording as if its sensors were here now.
type Driver struct {
	name     string
	open     func() (io.ReadCloser, error)
	m        Map
	opts     DriverOptions
	channels []frame.Channel
	resting  atomic.Bool
}

var (
	_ sensors.Driver = (*Driver)(nil)
	_ sensors.Rester = (*Driver)(nil)
)

// NewDriver makes a driver out of a recording. open is called once here, to
// learn the channels, and again for every playing.
func NewDriver(name string, open func() (io.ReadCloser, error), m Map, opts DriverOptions) (*Driver, error) {
	if opts.Speed == 0 {
		opts.Speed = 1
	}
	if opts.ClockSpeed == 0 {
		opts.ClockSpeed = 1
	}
	for _, v := range [...]float64{opts.Speed, opts.ClockSpeed} {
		if !(v > 0 && v <= 1e6) {
			return nil, fmt.Errorf("cannot play %s at speed %g: it must be above 0 and at most 1000000", name, v)
		}
	}
	d := &Driver{name: name, open: open, m: m, opts: opts}
	err := d.with(func(r *Reader) error {
		d.channels = r.Channels()
		return nil
	})
	return d, err
}

// Name tells which recording is played.
func (d *Driver) Name() string { return "recording " + d.name }

// Channels lists the channels in the recording.
func (d *Driver) Channels() []frame.Channel { return append([]frame.Channel(nil), d.channels...) }

// Resting reports whether a round has ended and the next not begun. Safe for
// use by many goroutines.
func (d *Driver) Resting() bool { return d.resting.Load() }

// Run plays the recording. At its end, unless it loops, every channel is
// posted as missing and Run waits for ctx, as nothing is wrong with the device.
func (d *Driver) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	p := player{
		speed: d.opts.Speed, clockSpeed: d.opts.ClockSpeed, clock: clock, post: post, channels: d.channels,
		due: clock(), step: firstStep, resting: &d.resting,
	}
	defer d.resting.Store(false)
	for {
		rows := p.rows
		err := d.with(func(r *Reader) error { return p.play(ctx, r) })
		switch {
		case ctx.Err() != nil:
			return nil
		case err != nil:
			return err
		case p.rows == rows:
			return fmt.Errorf("cannot play %s: it has no usable row", d.name)
		case !d.opts.Loop:
			p.end()
			<-ctx.Done()
			return nil
		}
		p.due += d.opts.Rest
		d.resting.Store(d.opts.Rest > 0)
	}
}

func (d *Driver) with(use func(*Reader) error) (err error) {
	f, err := d.open()
	if err != nil {
		return fmt.Errorf("cannot open the recording %s: %w", d.name, err)
	}
	defer f.Close() // only read from: closing can lose nothing
	r, err := NewReader(f, d.name, d.m, Options{OnProblem: d.opts.OnProblem})
	if err != nil {
		return err
	}
	return use(r)
}

// player posts rows when they are due.
type player struct {
	speed, clockSpeed float64
	clock             func() time.Duration
	post              func(sensors.Reading)
	channels          []frame.Channel
	rows              int
	// resting ends with the first row of a round.
	resting *atomic.Bool
	// due is when the next row is due, and step the last time between rows.
	due, step time.Duration
}

const (
	// firstStep parts the rounds of a recording of one row.
	firstStep = 100 * time.Millisecond
	// maxWait bounds the wait for a row, whatever date stands in the file.
	maxWait = 1000 * time.Hour
)

func (p *player) play(ctx context.Context, r *Reader) error {
	var f frame.Frame
	var last time.Duration
	for first := true; ; first = false {
		t, _, err := r.Next(&f)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if !first {
			p.step = time.Duration(min(float64(t-last)/p.speed, float64(maxWait)))
		}
		if p.rows > 0 {
			p.due += p.step
		}
		last = t
		if !wait(ctx, time.Duration(float64(p.due-p.clock())/p.clockSpeed)) {
			return nil
		}
		p.rows++
		p.frame(&f)
		p.resting.Store(false)
	}
}

// frame posts a row. A stale sample is one that didn't come, so it isn't
// posted: the board finds it stale as it did then.
func (p *player) frame(f *frame.Frame) {
	at := p.clock()
	for _, c := range p.channels {
		s := f.Samples[c]
		note := ""
		switch s.Status {
		case frame.NotFitted, frame.Stale:
			continue
		case frame.Stuck:
			s.Status = frame.Failed
			note = "stuck, as recorded"
		case frame.Good:
		default:
			note = s.Status.Words() + ", as recorded"
		}
		p.post(sensors.Reading{Channel: c, Sample: s, At: at, Note: note})
	}
}

func (p *player) end() {
	at := p.clock()
	for _, c := range p.channels {
		p.post(sensors.Reading{Channel: c, Sample: frame.Sample{Status: frame.Missing}, At: at, Note: "the recording has ended"})
	}
}

// wait sleeps; ok is false when ctx ended first.
func wait(ctx context.Context, d time.Duration) (ok bool) {
	if d <= 0 {
		return ctx.Err() == nil
	}
	return sensors.Pause(ctx, d)
}
