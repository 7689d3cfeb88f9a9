package engine

import (
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

// speedState follows a shaft speed that may hang at its last value.
type speedState struct {
	// rawHz is the last good reading, moved whether it differs from the one
	// before, hung whether it was found to hang and has not moved since.
	rawHz       float64
	moved, hung bool
	// alone is whether the speed is all that speaks for a turning pump, while
	// both current and switch say no.
	alone bool
}

// doubtSpeed finds a speed that stays the same to the last bit although current
// and switch both say no. A shaft that runs down moves it; one that is counted
// by a device that hangs doesn't. Against one no alone it isn't doubted: pulses
// that are timed may give the same number twice, and clamps fall off.
func (e *Engine) doubtSpeed(s *State, t time.Duration) {
	sp, n := &s.trust.speed, &s.out.Samples[frame.ShaftSpeed]
	if n.OK() {
		raw := s.signals[frame.ShaftSpeed].raw
		sp.moved, sp.rawHz = raw != sp.rawHz, raw
		sp.hung = sp.hung && !sp.moved
	}
	v := e.cfg.Machine.votes(&s.out.Samples)
	others := v
	others.speed = machine.CannotTell
	sp.alone = !sp.hung && v.speed == machine.Yes && v.noes() >= 2 && e.forTurning(s, others) == 0
	if s.trust.holds(speedHangs, sp.alone && !sp.moved, t) {
		sp.hung, sp.alone = true, false
	}
	if sp.hung && n.OK() {
		n.Status = frame.Suspect
	}
}
