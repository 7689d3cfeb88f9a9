package engine

import (
	"math"

	"headroom/rules/frame"
)

// addUp adds one frame's time to the totals. A sample stands for the time
// since the frame before it; a gap adds nothing.
func (e *Engine) addUp(s *State) {
	s.totals.Frames++
	dt := s.dtS
	s.totals.InStateS[s.machine.State] += dt
	smp := &s.out.Samples
	if q := smp[frame.Flow]; q.OK() {
		s.totals.WaterM3 += float64(q.Value * dt)
		s.totals.FlowS += dt
	}
	if i, u := smp[frame.MotorCurrent], smp[frame.SupplyVoltage]; i.OK() && u.OK() {
		s.totals.EnergyJ += float64(float64(i.Value*u.Value) * dt)
	}
	for r := range s.out.Rules {
		s.totals.Exposures[r].add(&s.out.Rules[r], &e.cfg.Rules[r], s, dt)
	}
}

// add counts as beyond a limit what the readings bear out; the least headroom
// is that of the value itself, supposed or not.
func (x *Exposure) add(v *Verdict, lim *Limit, s *State, dt float64) {
	if v.Judge.Blind() {
		x.BlindS += dt
	}
	if v.Judge.Answers() {
		x.WatchedS += dt
		if v.Assumed {
			x.AssumedS += dt
		}
	}
	if v.Judge != Watching {
		return
	}
	high := specs[v.Rule].HighIsBad
	if lim.HasWarn && past(v.Value, lim.Warn, high) && !v.supposedAt(lim.Warn) {
		x.BeyondWarnS += dt
	}
	if lim.HasAct && past(v.Value, lim.Act, high) && !v.supposedAt(lim.Act) {
		x.BeyondActS += dt
	}
	if !v.supposedAt(v.Limit) {
		x.Severity += float64(math.Max(-v.Headroom, 0) * dt)
	}
	if !x.Seen || v.Share < x.WorstShare {
		x.Seen, x.WorstShare, x.WorstHeadroom, x.WorstAt = true, v.Share, v.Headroom, s.last
	}
}

func past(value, limit float64, high bool) bool {
	if high {
		return value >= limit
	}
	return value <= limit
}
