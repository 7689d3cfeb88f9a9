package bench

import (
	"headroom/rules/frame"
	"headroom/rules/steady"
	"headroom/rules/units"
)

// Standing is how one channel stands in the window that is being collected.
type Standing struct {
	Channel frame.Channel
	// N readings so far, with their Mean and the Spread of one of them.
	N            int
	Mean, Spread float64
	// Decides is true for a channel whose rest decides about the point; Steady
	// says that it is at rest, and Why in words what is wrong else.
	Decides, Steady bool
	Why             string
}

// Standings tells of every good channel how it stands in the window that is
// being collected; empty while the machine isn't as the step asks.
func (s *Session) Standings() []Standing {
	step, ok := s.Step()
	if !ok || !s.met || len(s.win.t) < steady.MinReadings {
		return nil
	}
	lo := s.win.last(seconds(step.WindowS))
	decide := map[frame.Channel]bool{}
	for _, c := range tested(step.Kind) {
		decide[c] = s.tolerance(c) > 0
	}
	var out []Standing
	for c := range frame.NumChannels {
		if c.Digital() || !s.win.good(c, lo) {
			continue
		}
		r := s.win.reading(c, lo)
		st := Standing{Channel: c, N: r.N, Mean: r.Mean, Spread: r.Spread, Decides: decide[c]}
		if st.Decides {
			v := steady.Test{Tolerance: s.tolerance(c)}.Judge(s.win.x[c][lo:])
			if st.Steady = v.OK(); !st.Steady {
				st.Why = v.Reason.String()
			}
		}
		out = append(out, st)
	}
	return out
}

// Uncertain returns a channel's mean in a point with its expanded uncertainty u
// at Level and the factor k: the instrument's limits of error, its resolution
// and the scatter, combined as JCGM 100:2008 has it. ok is false where the
// channel wasn't good, or no instrument is stated for it.
func (r *Record) Uncertain(p *Point, c frame.Channel) (value, u, k float64, ok bool) {
	sh := &sheet{}
	full, why := sh.evaluate(func(x []float64) (float64, bool) { return (&look{sh: sh, rec: r, x: x}).at(p, c) })
	if why != "" {
		return 0, 0, 0, false
	}
	i, ok := full.Expand(Level)
	return i.Value, i.U, i.K, ok
}

// ValueU writes a value with its expanded uncertainty and unit, the
// uncertainty with two significant digits.
// Source: JCGM 100:2008, 7.2.6.
func ValueU(q units.Quantity, s units.System, si, expanded float64) string {
	return withU(unitFor(q, s, si), si, expanded)
}
