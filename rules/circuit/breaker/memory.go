package breaker

import (
	"math"

	"headroom/rules/circuit/thermal"
)

// State is the thermal memory: the temperature rise of both images as a
// multiple of the steady rise at the rated current. The zero value is a cold
// breaker.
type State struct {
	// Fast and Slow belong to the fastest and the slowest breaker allowed.
	Fast, Slow float64
}

// StateAfter is the memory of a breaker that has carried currentA amperes for
// a long time. ok=false for a current out of range.
func (m Model) StateAfter(currentA float64) (State, bool) {
	u, ok := m.heating(currentA)
	if !ok {
		return State{}, false
	}
	return State{Fast: u, Slow: u}, true
}

// StateUnknown is the memory to start with where nothing is known of the time
// before: the fast image as warm as the hold current makes it and the slow one
// cold, so that the band holds the truth whatever was carried before.
func (m Model) StateUnknown() State { return State{Fast: sq(m.cal.HoldMultiple)} }

// Step advances the memory by dtS seconds at a constant RMS current of
// currentA amperes. Range: currentA 0 to MaxMultiple ratings, dtS 0 to 86400 s.
// ok=false leaves the memory as it was; where the current stays unknown, call
// StepUnknown. It does not allocate. The result doesn't depend on how a span
// is cut into steps, but for rounding.
// Source: the law in model.go.
func (m Model) Step(s State, currentA, dtS float64) (State, bool) {
	u, ok := m.heating(currentA)
	if !ok {
		return s, false
	}
	return m.advance(s, u, u, dtS)
}

// StepUnknown advances the memory by dtS seconds in which the current was not
// known: the fast image heads for the hold current unless it is hotter, the
// slow one cools as at no current, and so the band widens as it should.
// ok=false for dtS outside 0 to 86400 s.
func (m Model) StepUnknown(s State, dtS float64) (State, bool) {
	return m.advance(s, math.Max(sq(m.cal.HoldMultiple), s.Fast), 0, dtS)
}

func (m Model) advance(s State, fast, slow, dtS float64) (State, bool) {
	f, okF := thermal.Step(s.Fast, fast, dtS, m.fast.tauS)
	l, okS := thermal.Step(s.Slow, slow, dtS, m.slow.tauS)
	if !okF || !okS {
		return s, false
	}
	return State{Fast: f, Slow: l}, true
}

// Used is the share of the fast image's way from cold to its trip level, 0 and
// up; at 1 the quickest breaker allowed trips. ok=false for a memory that is
// no number or negative.
func (m Model) Used(s State) (float64, bool) {
	if !m.valid(s) {
		return 0, false
	}
	return s.Fast / m.fast.level, true
}

func (m Model) valid(s State) bool {
	return m.ratingA > 0 && s.Fast >= 0 && s.Fast <= thermal.MaxTheta && s.Slow >= 0 && s.Slow <= thermal.MaxTheta
}
