// Package sensors is the edge towards hardware: what a driver is, and the
// board of latest readings from which the tick takes its frame. Real parts,
// the simulator and a recording that is played back live in folders below it
// and all implement Driver. It judges nothing: limits and alarms belong to
// rules/.
package sensors

import (
	"context"
	"time"

	"headroom/rules/frame"
)

// Reading is one channel's value as a driver got it.
type Reading struct {
	Channel frame.Channel
	// Sample holds the value in the channel's SI unit and what the driver can
	// say of it: Good, Failed, Missing or OutOfBand.
	Sample frame.Sample
	// At is the monotonic time of the measurement itself, not of its arrival.
	At time.Duration
	// Note says in words what is wrong when the sample isn't good, for example
	// "loop current 2.1 mA: wire off". Empty when good.
	Note string
}

// Driver reads one device, whatever it is: a converter on a bus, the
// simulator, a recording.
type Driver interface {
	// Name tells which device, for logs and error messages.
	Name() string
	// Channels lists the channels that this driver feeds.
	Channels() []frame.Channel
	// Run posts readings until ctx ends, and then returns nil. An error means
	// that the device is gone: the supervisor marks the driver's channels as
	// failed, waits with back-off and calls Run again. clock gives the
	// monotonic time for Reading.At. post never blocks.
	Run(ctx context.Context, clock func() time.Duration, post func(Reading)) error
}

// Rester is a driver that has times without any machine behind it, as between
// two rounds of a recording: the program takes no frame then, so that all who
// judge see a gap and not a jump.
type Rester interface {
	// Resting reports whether it is such a time. Safe for use by many
	// goroutines.
	Resting() bool
}
