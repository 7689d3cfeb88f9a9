package config

import (
	"time"

	"headroom/rules/engine"
)

// Outputs are what the daemon switches. All of them are off by default.
type Outputs struct {
	// KeepAlive is how old the tick's word may be before all outputs drop.
	KeepAlive    time.Duration
	Beacon, Horn Annunciator
	Stop         Stop
	// Reset and Hold are buttons that a person presses.
	Reset, Hold Button
}

// Any reports whether any output is on.
func (o *Outputs) Any() bool { return o.Beacon.On || o.Horn.On || o.Stop.On }

// Annunciator is a beacon or a horn with its table.
type Annunciator struct {
	On   bool
	GPIO GPIO
	// Turning and Standing are the patterns, by level, while the pump turns
	// (or may turn) and while it stands: "off", "steady", "slow" or "quick".
	Turning, Standing [engine.Act + 1]string
	// Stopped is the pattern while a stop waits for a person's reset.
	Stopped string
}

// Confirmed is what the key confirm must say for a stop relay to be used.
const Confirmed = "may stop the machine"

// Stop is the relay that lets the machine run.
type Stop struct {
	On bool
	// Confirm must be Confirmed.
	Confirm string
	GPIO    GPIO
	// Rules whose second stage stops the machine.
	Rules [engine.NumRules]bool
	// EnergisedStops turns the fail-safe polarity round.
	EnergisedStops bool
	// PulseEvery changes the line instead of holding it; 0 holds it.
	PulseEvery time.Duration
	// Override is the limit of the hold button; 0 switches it off.
	Override time.Duration
	// RunAtStart lets the machine run without a reset when the daemon starts.
	RunAtStart bool
}

// Button is an input that a person presses.
type Button struct {
	On   bool
	GPIO GPIO
}
