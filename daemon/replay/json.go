package replay

import (
	"encoding/json"
	"io"
	"time"

	"headroom/rules/engine"
	"headroom/rules/machine"
	"headroom/rules/units"
)

// Lines writes one JSON object a line: one for each transition as it happens,
// and one summary at the end. Numbers are SI. A field that is not known is
// left out, never 0.
type Lines struct {
	file string
	enc  *json.Encoder
	// err is the first failure to write; later lines are not tried.
	err error
}

// NewLines writes to w; file names the recording in each line.
func NewLines(w io.Writer, file string) *Lines {
	return &Lines{file: file, enc: json.NewEncoder(w)}
}

type transitionLine struct {
	Type   string  `json:"type"`
	File   string  `json:"file"`
	TS     float64 `json:"t_s"`
	TNs    int64   `json:"t_ns"`
	Wall   string  `json:"wall,omitempty"`
	Alarm  string  `json:"alarm"`
	Change string  `json:"change"`
	Level  string  `json:"level"`
	OnsetS float64 `json:"onset_s"`
	First  bool    `json:"first_out,omitempty"`
	// Assumed marks a value that rests in part on an assumption.
	Assumed bool   `json:"assumed,omitempty"`
	State   string `json:"machine"`
	Phase   string `json:"phase"`
	// Under names the alarm that this one follows from.
	Under string `json:"under,omitempty"`
	// Value and Limit are in Unit, SI; left out for a sensor's alarm and where
	// the rule no longer judges.
	Value  *float64 `json:"value,omitempty"`
	Limit  *float64 `json:"limit,omitempty"`
	Unit   string   `json:"unit,omitempty"`
	Sensor string   `json:"sensor_status,omitempty"`
}

// Transition writes one alarm's coming or going.
func (l *Lines) Transition(tr engine.Transition, wall time.Time) {
	line := transitionLine{
		Type: "transition", File: l.file, TS: tr.T.Seconds(), TNs: int64(tr.T), Wall: stamp(wall),
		Alarm: tr.Alarm.String(), Change: change(tr.Raised), Level: tr.Level.String(),
		OnsetS: tr.Onset.Seconds(), First: tr.First, Assumed: tr.Assumed, State: tr.Machine.String(), Phase: tr.Phase.String(),
	}
	if tr.HasCause {
		line.Under = tr.Under.String()
	}
	if r, ok := tr.Alarm.Rule(); ok {
		line.Value, line.Limit, line.Unit = &tr.Value, &tr.Limit, units.SISymbol(r.Spec().Quantity)
	} else {
		line.Sensor = tr.Status.String()
	}
	l.write(line)
}

type actLine struct {
	Type   string  `json:"type"`
	File   string  `json:"file"`
	TS     float64 `json:"t_s"`
	TNs    int64   `json:"t_ns"`
	Wall   string  `json:"wall,omitempty"`
	Alarm  string  `json:"alarm"`
	Act    string  `json:"act"`
	ShelfS float64 `json:"shelf_s,omitempty"`
	Who    string  `json:"who,omitempty"`
	// Taken is false where the act meant nothing, as under other limits.
	Taken bool `json:"taken"`
}

// Act writes what a person did.
func (l *Lines) Act(a Act, ok bool, wall time.Time) {
	l.write(actLine{
		Type: "act", File: l.file, TS: a.T.Seconds(), TNs: int64(a.T), Wall: stamp(wall), Alarm: a.Alarm.String(),
		Act: a.Act.String(), ShelfS: a.Shelf.Seconds(), Who: a.Who, Taken: ok,
	})
}

func change(raised bool) string {
	if raised {
		return "raised"
	}
	return "cleared"
}

func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("2006-01-02T15:04:05.999Z07:00")
}

func (l *Lines) write(v any) {
	if l.err == nil {
		l.err = l.enc.Encode(v)
	}
}

type summaryLine struct {
	Type     string             `json:"type"`
	File     string             `json:"file"`
	Verdict  string             `json:"verdict"`
	Doubt    string             `json:"doubt,omitempty"`
	Frames   uint64             `json:"frames"`
	Skipped  uint64             `json:"rows_skipped"`
	Gaps     uint64             `json:"gaps"`
	SpanS    float64            `json:"span_s"`
	InStateS map[string]float64 `json:"in_state_s"`
	Starts   uint64             `json:"starts"`
	// WaterM3 is null where nothing measured it.
	WaterM3  *float64   `json:"water_m3"`
	FirstOut string     `json:"first_out,omitempty"`
	Rules    []ruleLine `json:"rules"`
	Digest   string     `json:"verdict_digest,omitempty"`
}

type ruleLine struct {
	Rule     string  `json:"rule"`
	Judge    string  `json:"judge"`
	Unit     string  `json:"unit"`
	WatchedS float64 `json:"watched_s"`
	BlindS   float64 `json:"blind_s"`
	// AssumedS is how much of WatchedS rested on an assumption.
	AssumedS    float64 `json:"assumed_s,omitempty"`
	BeyondWarnS float64 `json:"beyond_warn_s"`
	BeyondActS  float64 `json:"beyond_act_s"`
	Severity    float64 `json:"severity_unit_s"`
	// Worst are left out for a rule that never judged.
	WorstHeadroom *float64 `json:"worst_headroom,omitempty"`
	WorstAtS      *float64 `json:"worst_at_s,omitempty"`
}

// Summary writes the last line and returns the first failure to write.
func (l *Lines) Summary(s *Summary) error {
	line := summaryLine{
		Type: "summary", File: l.file, Verdict: s.Verdict().String(), Doubt: s.Doubt(), Frames: s.Totals.Frames, Skipped: s.Skipped,
		Gaps: s.Totals.Gaps, SpanS: (s.Last - s.First).Seconds(), Starts: s.Totals.Starts,
		InStateS: map[string]float64{}, Digest: hexDigest(s.Digest),
	}
	if s.Totals.FlowS > 0 {
		line.WaterM3 = &s.Totals.WaterM3
	}
	for st := range machine.NumStates {
		line.InStateS[st.String()] = s.Totals.InStateS[st]
	}
	if s.Totals.HasFirst {
		line.FirstOut = s.Totals.FirstOut.String()
	}
	for r := range engine.NumRules {
		line.Rules = append(line.Rules, ruleLineOf(s, r))
	}
	l.write(line)
	return l.err
}

func ruleLineOf(s *Summary, r engine.RuleID) ruleLine {
	x := &s.Totals.Exposures[r]
	out := ruleLine{
		Rule: r.String(), Judge: s.Final.Rules[r].Judge.String(), Unit: units.SISymbol(r.Spec().Quantity),
		WatchedS: x.WatchedS, BlindS: x.BlindS, AssumedS: x.AssumedS, BeyondWarnS: x.BeyondWarnS, BeyondActS: x.BeyondActS, Severity: x.Severity,
	}
	if x.Seen {
		at := x.WorstAt.Seconds()
		out.WorstHeadroom, out.WorstAtS = &x.WorstHeadroom, &at
	}
	return out
}
