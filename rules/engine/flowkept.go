package engine

import (
	"math"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

// sameShare is how far the flow may be from what it was and still counts as the
// same: the noise of a flow meter. Common practice, no source.
const sameShare = 0.05

// workState is what the pump gave when the motor's current was last seen to
// drive it.
type workState struct {
	// flowM3s is that flow, 0 where the pump didn't press on a nozzle; rawM3s is
	// the last reading then, and moved whether another has come since.
	flowM3s, rawM3s float64
	moved           bool
}

// followWork notes the flow of a loaded pump, and forgets it once the flow has
// left it.
func (e *Engine) followWork(s *State, v votes) {
	w, q := &s.trust.work, s.out.Samples[frame.Flow]
	if !q.OK() {
		return
	}
	if v.current == machine.Yes {
		w.rawM3s, w.moved = q.Value, false
		if steady := s.model.flow; steady.ok && s.machine.Settled(s.out.T, rest) && same(q.Value, steady.v) {
			e.noteLoaded(s, w)
		}
		return
	}
	w.moved = w.moved || q.Value != w.rawM3s
	if w.flowM3s > 0 && !same(q.Value, w.flowM3s) {
		w.flowM3s = 0
	}
}

// noteLoaded takes the smoothed flow where the motor's current shows that the
// pump presses. While the current is on its way nothing is noted anew.
func (e *Engine) noteLoaded(s *State, w *workState) {
	flow, a := s.model.flow.v, s.model.current
	if !a.ok || !same(s.out.Samples[frame.MotorCurrent].Value, a.v) || s.machine.State != machine.Running {
		return
	}
	w.flowM3s = 0
	if e.loaded(a.v) && flow > 0.5*e.cfg.Machine.RatedFlowM3s {
		w.flowM3s = flow
	}
}

func same(v, was float64) bool { return math.Abs(v-was) <= sameShare*was }

// flowKept reports a flow that stays what the loaded pump gave although the
// current has gone: a nozzle passes the same flow at the same pressure only,
// and no supply brings that through a standing pump. A reading that hasn't
// moved since may be a meter that hangs. Source: the orifice equation, flow
// goes with the root of the pressure.
func (s *State) flowKept() bool {
	w := &s.trust.work
	return w.flowM3s > 0 && w.moved && s.out.Samples[frame.Flow].OK()
}
