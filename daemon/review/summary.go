package review

import (
	"time"

	"headroom/daemon/store"
	"headroom/rules/engine"
	"headroom/rules/machine"
	"headroom/rules/units"
)

// Summary is the account in figures.
type Summary struct {
	// Span is from the run's start to its end.
	Span time.Duration
	// States are the machine's states with how long each lasted within the
	// run, in the order of machine.State; those that never were are left out.
	States []StateTime
	// Starts of the pump, WaterM3 drawn, valid when HasWater: something measured
	// it; EnergyJ (apparent, 0 where not measured).
	Starts           uint64
	WaterM3, EnergyJ float64
	HasWater         bool
	// Through is up to when sums and worst headroom are known; Complete tells
	// that this is the end.
	Through  time.Duration
	Complete bool
	// Limits are the rules that judged or should have, in the order of rules.
	Limits []LimitSum
	// Alarms in the order in which they came.
	Alarms []AlarmLife
}

// Water is what was drawn, in words.
func (s *Summary) Water(sys units.System) string {
	if !s.HasWater {
		return "not measured"
	}
	return units.Format(units.Volume, sys, s.WaterM3)
}

// StateTime is how long the machine was in a state.
type StateTime struct {
	State   machine.State
	Seconds float64
}

// LimitSum is what a run was to one limit.
type LimitSum struct {
	Rule engine.RuleID
	store.ExposureSums
	// Worst headroom; valid when HasWorst.
	Worst    store.Worst
	HasWorst bool
}

func (t *teller) summary() Summary {
	h := &t.head
	s := Summary{Span: h.End - h.Start, Alarms: t.lives, Through: h.End, Complete: true}
	if h.ID.N == 0 {
		s.States = t.walked.lasted()
		return s
	}
	sum := &t.run.Summary
	s.Starts, s.WaterM3, s.EnergyJ = t.starts(), sum.Sums.WaterM3, sum.Sums.EnergyJ
	s.HasWater = sum.Sums.MeasuredWater()
	s.Through, s.Complete = sum.Through, sum.Through >= h.End
	for st := range machine.NumStates {
		if sec := sum.Sums.InStateS[st.String()]; sec > 0 {
			s.States = append(s.States, StateTime{st, sec})
		}
	}
	s.Limits = LimitsOf(sum)
	return s
}

// starts counts the stretches in which the pump turned. The run's sums count
// from its first frame on, which is after its first start.
func (t *teller) starts() (n uint64) {
	if !t.walked.known {
		return t.run.Summary.Sums.Starts + 1
	}
	for _, s := range t.turns() {
		if s.turns && s.to >= t.head.Start && s.from <= t.head.End {
			n++
		}
	}
	return n
}

// lasted adds up the states that were walked.
func (w *walked) lasted() (out []StateTime) {
	var sums [machine.NumStates]float64
	for _, s := range w.states {
		sums[s.state] += (s.to - s.from).Seconds()
	}
	for st, sec := range sums {
		if sec > 0 {
			out = append(out, StateTime{machine.State(st), sec})
		}
	}
	return out
}
