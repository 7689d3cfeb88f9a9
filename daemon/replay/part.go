package replay

import (
	"headroom/rules/engine"
)

// part makes the totals of the frames that are told of, where others went
// before. The engine's own totals are those of all frames.
type part struct {
	base  engine.Totals
	began bool
	worst [engine.NumRules]engine.Exposure
	first engine.AlarmID
	any   bool
}

// begin notes what all frames so far came to.
func (p *part) begin(s *engine.State) { p.base, p.began = s.Totals(), true }

// note follows what can't be had by subtraction.
func (p *part) note(v *engine.Verdicts) {
	if p.base.Frames+p.base.Rejected == 0 {
		return // nothing went before: the engine's own totals are right
	}
	for i := range v.Rules {
		j, x := &v.Rules[i], &p.worst[i]
		if j.Judge == engine.Watching && (!x.Seen || j.Share < x.WorstShare) {
			x.Seen, x.WorstShare, x.WorstHeadroom, x.WorstAt = true, j.Share, j.Headroom, v.T
		}
	}
	for _, tr := range v.Transitions() {
		if tr.Raised && !p.any {
			p.any, p.first = true, tr.Alarm
		}
	}
}

// totals are those of the frames since begin.
func (p *part) totals(s *engine.State) engine.Totals {
	t := s.Totals()
	if !p.began {
		return engine.Totals{}
	}
	if p.base.Frames+p.base.Rejected == 0 {
		return t
	}
	b := &p.base
	t.Frames -= b.Frames
	t.Rejected -= b.Rejected
	t.Gaps -= b.Gaps
	t.Starts -= b.Starts
	t.Annunciated -= b.Annunciated
	t.WaterM3 -= b.WaterM3
	t.FlowS -= b.FlowS
	t.EnergyJ -= b.EnergyJ
	for i := range t.InStateS {
		t.InStateS[i] -= b.InStateS[i]
	}
	for i := range t.Raised {
		t.Raised[i] -= b.Raised[i]
	}
	for i := range t.Exposures {
		x, y, w := &t.Exposures[i], &b.Exposures[i], &p.worst[i]
		*x = engine.Exposure{
			BeyondWarnS: x.BeyondWarnS - y.BeyondWarnS, BeyondActS: x.BeyondActS - y.BeyondActS, Severity: x.Severity - y.Severity,
			WatchedS: x.WatchedS - y.WatchedS, BlindS: x.BlindS - y.BlindS, AssumedS: x.AssumedS - y.AssumedS,
			WorstShare: w.WorstShare, WorstHeadroom: w.WorstHeadroom, WorstAt: w.WorstAt, Seen: w.Seen,
		}
	}
	t.FirstOut, t.HasFirst = p.first, p.any
	return t
}
