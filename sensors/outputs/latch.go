package outputs

import "time"

// DefaultOverride is how long a held button may keep the machine running
// against a stop, if nothing else is set: long enough to close a gun and drop
// the pressure. Our judgement, no source.
const DefaultOverride = 10 * time.Second

// Latch decides whether the machine may run. It is a pure step over a small
// state. Its zero value is stopped and waits for a reset, which is what a
// board must do after power comes back.
type Latch struct {
	// Override is the limit of one press of the hold button; 0 is
	// DefaultOverride, below 0 switches overriding off.
	Override time.Duration

	run          bool
	holding      bool
	heldSince    time.Duration
	holdReleased bool // the button has been seen up, so that a press is a press
	resetSeenUp  bool
}

// AllowAtStart lets the machine run without a reset when the program starts. It
// may only be used where the machine itself can't start by the return of its
// supply (a motor starter with no-volt release, or an engine).
func (l *Latch) AllowAtStart() { l.run = true }

// LatchInput is what the latch sees in one step.
type LatchInput struct {
	// Demand is true while a rule wants the machine stopped.
	Demand bool
	// Hold is true while a person holds the override button.
	Hold bool
	// Reset is true while a person presses reset. Only the change from up to
	// down counts: a button that hangs resets nothing.
	Reset bool
	// Dropped is true when the keeper had to drop the outputs by itself; see
	// Keeper.Dropped.
	Dropped bool
}

// LatchOutput is what the latch says.
type LatchOutput struct {
	// Run is true while the machine may run.
	Run bool
	// Overriding is true while a held button alone keeps it running.
	Overriding bool
	// OverrideLeft is how long that can still last.
	OverrideLeft time.Duration
	// ResetRefused is true in the step in which a reset was pressed but the
	// reason for the stop still stands.
	ResetRefused bool
}

// Step advances the latch to time t, which must not run backwards.
//
// A demand stops at once unless the hold button was pressed less than Override
// ago; letting go or the limit stops. Holding never starts a stopped machine. A
// reset does, if no demand stands.
func (l *Latch) Step(in LatchInput, t time.Duration) (out LatchOutput) {
	reset := in.Reset && l.resetSeenUp
	l.resetSeenUp = !in.Reset
	left := l.overrideLeft(in.Hold, t)
	switch {
	case in.Dropped:
		l.run = false
		out.ResetRefused = reset
	case l.run && in.Demand && left > 0:
		out.Overriding, out.OverrideLeft = true, left
	case in.Demand:
		out.ResetRefused = reset && !l.run
		l.run = false
	case reset:
		l.run = true
	}
	out.Run = l.run
	return out
}

// overrideLeft follows the hold button. A button that was down before the first
// step counts only after it has been let go.
func (l *Latch) overrideLeft(hold bool, t time.Duration) time.Duration {
	if !hold {
		l.holding, l.holdReleased = false, true
		return 0
	}
	if !l.holding && l.holdReleased {
		l.holding, l.heldSince = true, t
	}
	if !l.holding {
		return 0
	}
	limit := l.Override
	if limit == 0 {
		limit = DefaultOverride
	}
	return max(limit-(t-l.heldSince), 0)
}
