package modbus

import (
	"context"
	"fmt"
	"time"

	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors"
	"headroom/sensors/gpiochip/bounded"
)

// openLimit is how long opening or closing the line may take.
const openLimit = 3 * time.Second

// deadRounds without an answer of any unit count as a dead line: it is then
// closed and opened anew.
const deadRounds = 5

// longestRest is the most rounds for which a silent unit is left alone, so
// that it costs the others no time.
const longestRest = 16

// Driver reads the units on one serial line.
type Driver struct {
	opts Options
	slot bounded.Slot
	// last holds each point's last good value, which stays in a failed reading
	// for evidence. Only Run uses it.
	last []float64
}

var _ sensors.Driver = (*Driver)(nil)

// New checks the options. The line isn't opened before Run.
func New(o Options) (*Driver, error) {
	o = o.withDefaults()
	if err := o.check(); err != nil {
		return nil, fmt.Errorf("cannot read Modbus units on %s: %w", o.Name, err)
	}
	return &Driver{opts: o, last: make([]float64, len(o.Points))}, nil
}

// Name tells which line.
func (d *Driver) Name() string { return "Modbus units on " + d.opts.Name }

// Channels lists the points' channels in the order of the options.
func (d *Driver) Channels() []frame.Channel {
	out := make([]frame.Channel, len(d.opts.Points))
	for i, p := range d.opts.Points {
		out[i] = p.Channel
	}
	return out
}

// Run reads the points in turn until ctx ends. A fault of one unit is posted as
// the status of its channels; an error is returned when the line is gone or
// when no unit has answered for five rounds. Every wait has a limit.
func (d *Driver) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	port, err := bounded.Do(&d.slot, openLimit, d.opts.Open, func(p Port) { _ = p.Close() })
	if err != nil {
		return fmt.Errorf("%s: %w", d.Name(), err)
	}
	defer func() {
		_, _ = bounded.Do(&d.slot, openLimit, func() (struct{}, error) { return struct{}{}, port.Close() }, nil)
	}()
	l := &line{port: port, baud: d.opts.Baud, limit: d.opts.Limit}
	rests := map[byte]*rest{}
	for dead := 0; ctx.Err() == nil; {
		began := clock()
		answered, err := d.round(ctx, l, rests, clock, post)
		if err != nil {
			return fmt.Errorf("%s: %w", d.Name(), err)
		}
		dead++
		if answered {
			dead = 0
		}
		if dead >= deadRounds && ctx.Err() == nil {
			return fmt.Errorf("%s: no unit answers: check the adapter and the wires A and B", d.Name())
		}
		sensors.Pause(ctx, began+d.opts.Period-clock())
	}
	return nil
}

// rest leaves a silent unit alone for more and more rounds.
type rest struct{ skip, next int }

func (r *rest) failed() {
	r.next = min(max(2*r.next, 1), longestRest)
	r.skip = r.next
}

func (d *Driver) round(ctx context.Context, l *line, rests map[byte]*rest, clock func() time.Duration, post func(sensors.Reading)) (answered bool, err error) {
	var skipped [256]bool
	for i, p := range d.opts.Points {
		r := rests[p.Unit]
		if r == nil {
			r = &rest{}
			rests[p.Unit] = r
		}
		switch {
		case ctx.Err() != nil:
			return answered, nil
		case skipped[p.Unit]:
			continue // its fault was posted with an earlier point or round
		case r.skip > 0:
			r.skip, skipped[p.Unit] = r.skip-1, true
			continue
		}
		at := clock()
		data, err := l.askPatiently(ctx, request{p.Unit, p.Table, p.Register, p.Type.registers()}, d.opts.Tries)
		if err != nil && !recoverable(err) {
			return answered, err
		}
		if silent(err) {
			r.failed()
			skipped[p.Unit] = true
			d.fail(p.Unit, at, err, post)
			continue
		}
		answered, r.next = true, 0
		post(d.reading(i, at, data, err))
	}
	return answered, nil
}

// silent reports whether the unit itself gave no sign of life.
func silent(err error) bool {
	_, refusal := err.(*Exception)
	return err != nil && !refusal
}

// fail posts a silent unit's fault on all its channels.
func (d *Driver) fail(unit byte, at time.Duration, err error, post func(sensors.Reading)) {
	for i, p := range d.opts.Points {
		if p.Unit == unit {
			post(d.reading(i, at, nil, err))
		}
	}
}

func (d *Driver) reading(i int, at time.Duration, data []byte, err error) sensors.Reading {
	p := d.opts.Points[i]
	r := sensors.Reading{Channel: p.Channel, At: at, Sample: frame.Sample{Value: d.last[i]}}
	if err != nil {
		r.Sample.Status = frame.Failed
		r.Note = fmt.Sprintf("unit %d, register %d: %v", p.Unit, p.Register, err)
		return r
	}
	v, status, note := p.convert(data)
	if status == frame.Good {
		d.last[i], r.Sample.Value = v, v
	}
	r.Sample.Status, r.Note = status, note
	return r
}

// convert turns registers into a value in SI, or says why not.
func (p Point) convert(data []byte) (si float64, status frame.Status, note string) {
	v, raw := p.Type.number(data, p.Order)
	for _, n := range p.NotAvailable {
		if raw == n {
			return 0, frame.Failed, fmt.Sprintf("unit %d says that it has no value in register %d", p.Unit, p.Register)
		}
	}
	if bad(v) {
		return 0, frame.Failed, fmt.Sprintf("unit %d gives no number in register %d: check type and word order", p.Unit, p.Register)
	}
	u, _ := units.Lookup(p.Channel.Quantity(), p.Symbol) // checked by New
	si = u.ToSI(float64(v*p.Scale) + p.Offset)
	if bad(si) {
		return 0, frame.OutOfBand, fmt.Sprintf("unit %d, register %d: %g is too large for any machine: check type and word order", p.Unit, p.Register, v)
	}
	return si, frame.Good, ""
}
