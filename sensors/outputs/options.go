package outputs

import (
	"errors"
	"fmt"
	"time"

	"headroom/sensors/gpiochip"
)

// Output is one output line.
type Output struct {
	// Chip and Line as in gpiochip.OutputRequest.
	Chip string
	Line gpiochip.Line
	// ActiveLow is for boards that switch on with a low line.
	ActiveLow bool
}

// Polarity says what an energised stop relay means; see the package comment.
type Polarity uint8

// The polarities.
const (
	// EnergisedRuns stops the machine when the coil has no current. Fail-safe.
	EnergisedRuns Polarity = iota
	// EnergisedStops lets the machine run when the coil has no current.
	EnergisedStops
)

// StopRelay is the output that lets the machine run.
type StopRelay struct {
	Output
	Polarity Polarity
	// PulseEvery, if above 0, changes the line that often instead of holding it
	// while the machine may run, for a relay module that drops when the pulses
	// end. 25 ms to 1 s; with EnergisedRuns only.
	PulseEvery time.Duration
}

// Options of the outputs. A nil output is not there and is never touched; that
// is the default for all three.
type Options struct {
	// Lines hands out the lines; gpiochip.Linux{} on a real board.
	Lines  gpiochip.Requester
	Beacon *Output
	Horn   *Output
	Stop   *StopRelay
	// KeepAlive is how old a command may be before the outputs drop to their
	// safe state, 200 ms to 10 s; default 1 s, ten ticks.
	KeepAlive time.Duration
}

func (o Options) check() error {
	if o.Lines == nil {
		return errors.New("option Lines is missing: give gpiochip.Linux{}")
	}
	if o.KeepAlive < 200*time.Millisecond || o.KeepAlive > 10*time.Second {
		return fmt.Errorf("option KeepAlive is %v: it must be 200ms to 10s", o.KeepAlive)
	}
	if s := o.Stop; s != nil {
		switch {
		case s.Polarity > EnergisedStops:
			return fmt.Errorf("polarity %d of the stop relay is neither EnergisedRuns nor EnergisedStops", s.Polarity)
		case s.PulseEvery != 0 && (s.PulseEvery < step || s.PulseEvery > time.Second):
			return fmt.Errorf("option PulseEvery is %v: it must be %v to 1s", s.PulseEvery, step)
		case s.PulseEvery != 0 && s.Polarity == EnergisedStops:
			return errors.New("option PulseEvery needs the polarity EnergisedRuns: pulses mean that the machine may run")
		}
	}
	all := o.all()
	for i, a := range all {
		if err := a.request().Check(); err != nil {
			return fmt.Errorf("%s: %w", a.name, err)
		}
		for _, b := range all[:i] {
			if a.Chip == b.Chip && a.Line == b.Line {
				return fmt.Errorf("%s and %s are on the same line %s", b.name, a.name, a.Line)
			}
		}
	}
	return nil
}

// named is an output with its role and its safe level.
type named struct {
	Output
	name string
	safe bool
}

// all lists the outputs that are there, the one that matters most first.
func (o Options) all() (out []named) {
	if o.Stop != nil {
		out = append(out, named{o.Stop.Output, "stop relay", o.Stop.Polarity == EnergisedStops})
	}
	if o.Beacon != nil {
		out = append(out, named{*o.Beacon, "beacon", false})
	}
	if o.Horn != nil {
		out = append(out, named{*o.Horn, "horn", false})
	}
	return out
}

func (n named) request() gpiochip.OutputRequest {
	return gpiochip.OutputRequest{Chip: n.Chip, Line: n.Line, ActiveLow: n.ActiveLow, Consumer: "headroom " + n.name, Initial: n.safe}
}
