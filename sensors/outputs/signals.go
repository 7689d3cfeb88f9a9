package outputs

import (
	"time"

	"headroom/rules/engine"
	"headroom/rules/machine"
)

// Pattern is how a lamp or a horn goes on and off. The zero value is off.
type Pattern struct {
	// On is how long it is on; 0 is off for good.
	On time.Duration
	// Off is how long it is off in between; 0 is on for good.
	Off time.Duration
}

// The patterns. Slow is 0.5 Hz and quick 2 Hz, inside the ranges that IEC
// 60073 gives for slow (0.4 to 0.8 Hz) and normal flashing (1.4 to 2.8 Hz);
// these ranges are from memory and were not checked against the standard.
var (
	silent = Pattern{}
	steady = Pattern{On: time.Second}
	slow   = Pattern{On: time.Second, Off: time.Second}
	quick  = Pattern{On: 250 * time.Millisecond, Off: 250 * time.Millisecond}
)

// Lit tells whether the pattern is on, the time t after it began.
func (p Pattern) Lit(t time.Duration) bool {
	switch {
	case p.On <= 0 || t < 0:
		return false
	case p.Off <= 0:
		return true
	}
	return t%(p.On+p.Off) < p.On
}

// Signal is what beacon and horn shall do.
type Signal struct{ Beacon, Horn Pattern }

// Situation is what a signal is chosen by.
type Situation struct {
	// Level is the highest severity that stands.
	Level engine.Level
	// State of the machine.
	State machine.State
	// Silenced is true after a person has silenced the horn.
	Silenced bool
	// Stopped is true while the latch holds the machine stopped.
	Stopped bool
}

// rows is the table: by severity, while the pump turns (or may turn: an unknown
// state counts as turning) and while it stands. The horn is for what can't wait
// and only where somebody can act on a turning pump.
var rows = [...]struct{ turning, standing Signal }{
	engine.Normal:  {Signal{silent, silent}, Signal{silent, silent}},
	engine.Advice:  {Signal{silent, silent}, Signal{silent, silent}}, // the screen is enough
	engine.Warning: {Signal{slow, silent}, Signal{slow, silent}},
	engine.Act:     {Signal{quick, quick}, Signal{quick, silent}},
}

// Signals returns what beacon and horn do in a situation. A severity it does
// not know counts as the highest. A stop that waits for a person's reset shows
// a steady beacon, unless something louder stands.
func Signals(s Situation) Signal {
	row := rows[min(int(s.Level), len(rows)-1)]
	out := row.standing
	if s.State.Turning() || s.State == machine.Unknown || s.State >= machine.NumStates {
		out = row.turning
	}
	if s.Stopped && out.Beacon == silent {
		out.Beacon = steady
	}
	if s.Silenced {
		out.Horn = silent
	}
	return out
}
