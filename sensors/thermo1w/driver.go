package thermo1w

import (
	"context"
	"errors"
	"fmt"
	"time"

	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors"
	"headroom/sensors/gpiochip/bounded"
)

// Sensor says which sensor feeds which channel.
type Sensor struct {
	Serial  Serial
	Channel frame.Channel
}

// Options of the thermometers on one bus. Zero values take the default that
// stands with the field.
type Options struct {
	// Open gives the way to the bus, anew for each run; default is Files{}.
	Open func() (Source, error)
	// Sensors on this bus, at least one; serials and channels once each.
	Sensors []Sensor
	// Period from the start of one round over all sensors to the next, 100 ms
	// to 60 s; default 2 s. A round takes about a second per sensor.
	Period time.Duration
	// Limit for one answer, 1 to 10 s; default 3 s. Measured: the kernel takes
	// 0.8 s for a good answer and up to 1.9 s for a bad one.
	Limit time.Duration
}

// deadRounds is how many rounds without any answer count as a dead bus.
const deadRounds = 3

// Driver is the thermometers on one 1-wire bus.
type Driver struct {
	opts Options
	slot bounded.Slot
	// last holds each sensor's last good value, which stays in a failed
	// reading for evidence. Only Run uses it.
	last []float64
}

var _ sensors.Driver = (*Driver)(nil)

// New checks the options. No sensor is touched before Run.
func New(o Options) (*Driver, error) {
	if o.Open == nil {
		o.Open = func() (Source, error) { return Files{}, nil }
	}
	if o.Period == 0 {
		o.Period = 2 * time.Second
	}
	if o.Limit == 0 {
		o.Limit = 3 * time.Second
	}
	if err := o.check(); err != nil {
		return nil, fmt.Errorf("cannot read 1-wire thermometers: %w", err)
	}
	o.Sensors = append([]Sensor(nil), o.Sensors...)
	return &Driver{opts: o, last: make([]float64, len(o.Sensors))}, nil
}

func (o Options) check() error {
	switch {
	case len(o.Sensors) == 0:
		return errors.New("option Sensors is empty: name at least one sensor by its serial number")
	case o.Period < 100*time.Millisecond || o.Period > time.Minute:
		return fmt.Errorf("option Period is %v: it must be 100ms to 1m", o.Period)
	case o.Limit < time.Second || o.Limit > 10*time.Second:
		return fmt.Errorf("option Limit is %v: it must be 1s to 10s", o.Limit)
	}
	for i, s := range o.Sensors {
		if _, err := s.Serial.Address(); err != nil {
			return err
		}
		if s.Channel.Quantity() != units.Temperature {
			return fmt.Errorf("sensor %s can't feed the channel %s: it measures temperature", s.Serial, s.Channel)
		}
		for _, other := range o.Sensors[:i] {
			if other.Serial == s.Serial || other.Channel == s.Channel {
				return fmt.Errorf("sensor %s for %s and sensor %s for %s: each sensor and each channel can stand once", other.Serial, other.Channel, s.Serial, s.Channel)
			}
		}
	}
	return nil
}

// Name tells which bus.
func (d *Driver) Name() string {
	return fmt.Sprintf("1-wire thermometers (%s, %d in all)", d.opts.Sensors[0].Serial, len(d.opts.Sensors))
}

// Channels lists the sensors' channels in the order of the options.
func (d *Driver) Channels() []frame.Channel {
	out := make([]frame.Channel, len(d.opts.Sensors))
	for i, s := range d.opts.Sensors {
		out[i] = s.Channel
	}
	return out
}

// Run reads the sensors in turn until ctx ends. A reading's time is when its
// conversion began. A fault of one sensor is posted as that channel's status
// after a second try; an error is returned when the bus is gone or when no
// sensor has answered for three rounds. Nothing waits longer than Limit.
func (d *Driver) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	// Every call, the opening too, goes through the one slot of this bus.
	source, err := bounded.Do(&d.slot, d.opts.Limit, d.opts.Open, func(s Source) { _ = s.Close() })
	if err != nil {
		return fmt.Errorf("cannot open the 1-wire bus: %w", err)
	}
	defer d.close(source)
	for dead := 0; ctx.Err() == nil; {
		began := clock()
		answered, err := d.round(ctx, source, clock, post)
		switch {
		case err != nil:
			return err
		case answered || ctx.Err() != nil:
			dead = 0
		default:
			dead++
		}
		if dead >= deadRounds {
			return fmt.Errorf("no 1-wire thermometer answers: check the bus wire and its pull-up resistor")
		}
		sensors.Pause(ctx, began+d.opts.Period-clock())
	}
	return nil
}

// close leaves the source to its hung call if there is one.
func (d *Driver) close(s Source) {
	_, _ = bounded.Do(&d.slot, d.opts.Limit, func() (struct{}, error) { return struct{}{}, s.Close() }, nil)
}

func (d *Driver) round(ctx context.Context, src Source, clock func() time.Duration, post func(sensors.Reading)) (answered bool, err error) {
	for i, s := range d.opts.Sensors {
		if ctx.Err() != nil {
			return answered, nil
		}
		at := clock()
		milliC, fault, err := d.measure(src, s.Serial)
		if fault != nil && fault != errLate {
			at = clock() // one bad answer is common on a long wire: ask again
			milliC, fault, err = d.measure(src, s.Serial)
		}
		if err != nil {
			return answered, err
		}
		r := sensors.Reading{Channel: s.Channel, At: at}
		if fault != nil {
			r.Sample.Status, r.Note = fault.Status, fmt.Sprintf("sensor %s: %s", s.Serial, fault.Words)
		} else {
			answered, r.Sample.Status, d.last[i] = true, frame.Good, kelvin(milliC)
		}
		r.Sample.Value = d.last[i]
		post(r)
	}
	return answered, nil
}

// measure asks once, within the limit. A bus that still hangs on an earlier
// question is late too. An err means that the bus is gone.
func (d *Driver) measure(src Source, s Serial) (milliC float64, fault *Fault, err error) {
	milliC, err = bounded.Do(&d.slot, d.opts.Limit, func() (float64, error) { return src.Read(s) }, nil)
	switch {
	case errors.Is(err, bounded.ErrLate) || errors.Is(err, bounded.ErrBusy):
		return 0, errLate, nil
	case errors.As(err, &fault):
		return 0, fault, nil
	}
	return milliC, nil, err
}
