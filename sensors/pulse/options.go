package pulse

import (
	"errors"
	"fmt"
	"time"

	"headroom/rules/frame"
	"headroom/sensors/gpiochip"
)

// Options of a pulse input. Zero values take the default that stands with the
// field; the fields without one are needed.
type Options struct {
	// Lines hands out the line; gpiochip.Linux{} on a real board.
	Lines gpiochip.Requester
	// Chip and Line as in gpiochip.InputRequest.
	Chip string
	Line gpiochip.Line
	// Falling counts falling edges in place of rising ones. Take the edge that
	// the part drives hard: with an open collector and a pull-up, the falling.
	Falling bool
	// Bias of the line.
	Bias gpiochip.Bias
	// Debounce in the kernel, at most a third of the shortest period; 0 for
	// none.
	Debounce time.Duration
	// Channel is what the pulses mean: frame.Flow or frame.ShaftSpeed.
	Channel frame.Channel
	// K is the meter's calibration, for frame.Flow.
	K KTable
	// PulsesPerRev of the shaft, for frame.ShaftSpeed.
	PulsesPerRev float64
	// MaxHz is the highest pulse rate the part can give, 0.1 to 20 000 Hz. A
	// rate above it is out of band; an edge sooner than half its period after
	// the one before is impossible and left out.
	MaxHz float64
	// Window is the time over which a rate is a mean, 50 ms to 10 s; default
	// 500 ms. A longer one is steadier and later.
	Window time.Duration
	// ZeroAfter is the silence after which the rate is 0, 100 ms to 60 s;
	// default 3 s. Its inverse is the lowest rate that can be told.
	ZeroAfter time.Duration
	// Period between readings, 10 ms to 5 s; default 200 ms.
	Period time.Duration
}

func (o Options) withDefaults() Options {
	for _, d := range []struct {
		field *time.Duration
		value time.Duration
	}{{&o.Window, 500 * time.Millisecond}, {&o.ZeroAfter, 3 * time.Second}, {&o.Period, 200 * time.Millisecond}} {
		if *d.field == 0 {
			*d.field = d.value
		}
	}
	return o
}

func (o Options) check() error {
	if o.Lines == nil {
		return errors.New("option Lines is missing: give gpiochip.Linux{}")
	}
	if err := o.request().Check(); err != nil {
		return err
	}
	if !(o.MaxHz >= 0.1 && o.MaxHz <= 20_000) {
		return fmt.Errorf("option MaxHz is %g: give the highest pulse rate of the part, 0.1 to 20000 Hz", o.MaxHz)
	}
	for _, d := range []struct {
		name          string
		v, low, upper time.Duration
	}{
		{"Window", o.Window, 50 * time.Millisecond, 10 * time.Second},
		{"ZeroAfter", o.ZeroAfter, 100 * time.Millisecond, time.Minute},
		{"Period", o.Period, 10 * time.Millisecond, 5 * time.Second},
		{"Debounce", o.Debounce, 0, time.Duration(float64(time.Second) / o.MaxHz / 3)},
	} {
		if d.v < d.low || d.v > d.upper {
			return fmt.Errorf("option %s is %v: it must be %v to %v", d.name, d.v, d.low, d.upper)
		}
	}
	return o.checkMeaning()
}

func (o Options) checkMeaning() error {
	switch o.Channel {
	case frame.Flow:
		if o.PulsesPerRev != 0 {
			return errors.New("option PulsesPerRev is for shaft_speed: a flow takes K")
		}
		return o.K.Check()
	case frame.ShaftSpeed:
		if len(o.K) > 0 {
			return errors.New("option K is for flow: a shaft speed takes PulsesPerRev")
		}
		if !(o.PulsesPerRev > 0 && o.PulsesPerRev <= 10_000) {
			return fmt.Errorf("option PulsesPerRev is %g: it must be above 0, at most 10000", o.PulsesPerRev)
		}
		return nil
	}
	return fmt.Errorf("option Channel is %s: pulses can be flow or shaft_speed", o.Channel)
}

// kernelBuffer is the number of events the kernel shall hold. Measured on
// kernel 6.1: with the default of 16 a burst of 17 loses one, with 1024 a
// reader may be late by 1024 pulses.
const kernelBuffer = 1024

func (o Options) request() gpiochip.InputRequest {
	r := gpiochip.InputRequest{
		Chip: o.Chip, Line: o.Line, Consumer: "headroom " + o.Channel.String(),
		Edges: gpiochip.Rising, Bias: o.Bias, Debounce: o.Debounce, Buffer: kernelBuffer,
	}
	if o.Falling {
		r.Edges = gpiochip.Falling
	}
	return r
}
