package store

import (
	"time"

	"headroom/rules/engine"
	"headroom/rules/machine"
)

// Sums are engine.Totals by names, so that they can be read by a program with
// other rules. What is zero is left out. EnergyJ is apparent energy, V A s.
type Sums struct {
	Frames      uint64                  `json:"frames,omitempty"`
	Gaps        uint64                  `json:"gaps,omitempty"`
	Starts      uint64                  `json:"starts,omitempty"`
	Annunciated uint64                  `json:"annunciated,omitempty"`
	WaterM3     float64                 `json:"water_m3,omitempty"`
	FlowS       float64                 `json:"flow_s,omitempty"`
	EnergyJ     float64                 `json:"energy_j,omitempty"`
	InStateS    map[string]float64      `json:"in_state_s,omitempty"`
	Exposures   map[string]ExposureSums `json:"exposures,omitempty"`
	Raised      map[string]uint64       `json:"raised,omitempty"`
}

// MeasuredWater reports whether anything measured the water. A record of an
// older program doesn't say for how long; water that it counts was measured.
func (s *Sums) MeasuredWater() bool { return s.FlowS > 0 || s.WaterM3 > 0 }

// ExposureSums is the part of engine.Exposure that adds up.
type ExposureSums struct {
	BeyondWarnS float64 `json:"beyond_warn_s,omitempty"`
	BeyondActS  float64 `json:"beyond_act_s,omitempty"`
	Severity    float64 `json:"severity,omitempty"`
	WatchedS    float64 `json:"watched_s,omitempty"`
	BlindS      float64 `json:"blind_s,omitempty"`
}

// sumsBetween is what was added to the totals since before.
func sumsBetween(now, before *engine.Totals) Sums {
	s := Sums{
		Frames: now.Frames - before.Frames, Gaps: now.Gaps - before.Gaps, Starts: now.Starts - before.Starts,
		Annunciated: now.Annunciated - before.Annunciated,
		WaterM3:     now.WaterM3 - before.WaterM3, FlowS: now.FlowS - before.FlowS, EnergyJ: now.EnergyJ - before.EnergyJ,
	}
	for i := range now.InStateS {
		addTo(&s.InStateS, machine.State(i).String(), now.InStateS[i]-before.InStateS[i])
	}
	for i := range now.Exposures {
		a, b := &now.Exposures[i], &before.Exposures[i]
		addTo(&s.Exposures, engine.RuleID(i).String(), ExposureSums{
			a.BeyondWarnS - b.BeyondWarnS, a.BeyondActS - b.BeyondActS, a.Severity - b.Severity,
			a.WatchedS - b.WatchedS, a.BlindS - b.BlindS,
		})
	}
	for i := range now.Raised {
		addTo(&s.Raised, engine.AlarmID(i).String(), now.Raised[i]-before.Raised[i])
	}
	return s
}

// addTo sets what isn't zero.
func addTo[T comparable](m *map[string]T, name string, v T) {
	var zero T
	if v == zero {
		return
	}
	if *m == nil {
		*m = map[string]T{}
	}
	(*m)[name] = v
}

// Add adds another sum to s.
func (s *Sums) Add(o *Sums) {
	s.Frames += o.Frames
	s.Gaps += o.Gaps
	s.Starts += o.Starts
	s.Annunciated += o.Annunciated
	s.WaterM3 += o.WaterM3
	s.FlowS += o.FlowS
	s.EnergyJ += o.EnergyJ
	for k, v := range o.InStateS {
		addTo(&s.InStateS, k, s.InStateS[k]+v)
	}
	for k, v := range o.Raised {
		addTo(&s.Raised, k, s.Raised[k]+v)
	}
	for k, v := range o.Exposures {
		e := s.Exposures[k]
		addTo(&s.Exposures, k, ExposureSums{
			e.BeyondWarnS + v.BeyondWarnS, e.BeyondActS + v.BeyondActS, e.Severity + v.Severity,
			e.WatchedS + v.WatchedS, e.BlindS + v.BlindS,
		})
	}
}

// Worst is the least headroom that a rule saw.
type Worst struct {
	// Share of the rule's span, and the distance itself in the rule's
	// difference quantity, SI.
	Share    float64       `json:"share"`
	Headroom float64       `json:"headroom"`
	T        time.Duration `json:"t_ns"`
}

// Summary of a run.
type Summary struct {
	// Sums is what the run added to the engine's totals; empty where the
	// totals were not noted, see Store.NoteTotals.
	Sums Sums `json:"sums,omitzero"`
	// Worst headroom of each rule that could judge.
	Worst map[string]Worst `json:"worst,omitempty"`
	// Through is up to when the sums and the worst are known. After a power
	// cut that may be up to half a minute before the end.
	Through time.Duration `json:"through_ns"`
}
