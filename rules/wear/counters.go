package wear

// MaxTickS is the longest step Counters.Advance counts, in seconds. After a
// longer gap nobody knows whether the pump ran.
const MaxTickS = 60

// Counters are the life of a machine so far. Hours are counted in seconds.
type Counters struct {
	// RunS is the running time in seconds, 0 to 1e10.
	RunS float64
	// Starts counts starts of the motor, Uses the days or jobs it went out on.
	Starts, Uses uint32
}

// Advance counts a step of dtS seconds, from above 0 to MaxTickS, that ended
// with the motor running or not, after it was or wasn't running before; a step
// counts as run if it ended so. ok is false, and the counters come back as
// they were, where dtS is out of range.
func (c Counters) Advance(was, running bool, dtS float64) (next Counters, ok bool) {
	if !upTo(dtS, MaxTickS) || !c.valid() {
		return c, false
	}
	if running {
		c.RunS += dtS
		if !was && c.Starts < 1<<32-1 {
			c.Starts++
		}
	}
	return c, true
}

// valid reports whether the running time can be one.
func (c Counters) valid() bool { return within(c.RunS, 0, 1e10) }

// Service is when a task was last done.
type Service struct {
	// Done is false as long as it never was; At is then not looked at.
	Done bool
	// At are the counters when it was done.
	At Counters
}
