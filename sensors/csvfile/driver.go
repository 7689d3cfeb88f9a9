package csvfile

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"headroom/rules/frame"
	"headroom/sensors"
)

// DriverOptions of a recording that is played live.
type DriverOptions struct {
	// Speed is the pace: 1 as recorded (also when 0), 2 twice as fast.
	Speed float64
	// Loop starts again at the end, one last step later.
	Loop bool
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
}

var _ sensors.Driver = (*Driver)(nil)

// NewDriver makes a driver out of a recording. open is called once here, to
// learn the channels, and again for every playing.
func NewDriver(name string, open func() (io.ReadCloser, error), m Map, opts DriverOptions) (*Driver, error) {
	if opts.Speed == 0 {
		opts.Speed = 1
	}
	if !(opts.Speed > 0 && opts.Speed <= 1e6) {
		return nil, fmt.Errorf("cannot play %s at speed %g: it must be above 0 and at most 1000000", name, opts.Speed)
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

// Run plays the recording. At its end, unless it loops, every channel is
// posted as missing and Run waits for ctx, as nothing is wrong with the device.
func (d *Driver) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	p := player{speed: d.opts.Speed, clock: clock, post: post, channels: d.channels, due: clock(), step: firstStep}
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
	speed    float64
	clock    func() time.Duration
	post     func(sensors.Reading)
	channels []frame.Channel
	rows     int
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
		if !wait(ctx, p.due-p.clock()) {
			return nil
		}
		p.rows++
		p.frame(&f)
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
