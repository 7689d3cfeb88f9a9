package review

import (
	"encoding/json"
	"io"
	"time"

	"headroom/rules/frame"
	"headroom/rules/units"
)

type accountJSON struct {
	Run        string         `json:"run"`
	Machine    string         `json:"machine,omitempty"`
	Software   string         `json:"software,omitempty"`
	Readings   string         `json:"readings"`
	Imported   string         `json:"imported_from"`
	Caution    string         `json:"caution"`
	Config     string         `json:"config,omitempty"`
	StartWall  string         `json:"start_wall,omitempty"`
	Clock      string         `json:"clock"`
	FromS      float64        `json:"from_s"`
	ToS        float64        `json:"to_s"`
	StartS     float64        `json:"start_s"`
	EndS       float64        `json:"end_s"`
	Ended      string         `json:"ended,omitempty"`
	Units      string         `json:"text_units"`
	Sentences  []sentenceJSON `json:"sentences"`
	CannotTell []sentenceJSON `json:"cannot_tell"`
	Summary    summaryJSON    `json:"summary"`
}

type sentenceJSON struct {
	N        int            `json:"n"`
	Kind     Kind           `json:"kind"`
	FromS    float64        `json:"from_s"`
	ToS      float64        `json:"to_s"`
	Level    uint8          `json:"level_n,omitempty"`
	Text     string         `json:"text"`
	Evidence []evidenceJSON `json:"evidence"`
}

type evidenceJSON struct {
	Basis   Basis    `json:"basis"`
	Channel string   `json:"channel,omitempty"`
	FromNs  int64    `json:"from_ns"`
	ToNs    int64    `json:"to_ns"`
	Figure  Figure   `json:"figure,omitempty"`
	Value   *float64 `json:"value,omitempty"`
	Count   int      `json:"count,omitempty"`
	Name    string   `json:"name,omitempty"`
	N       int      `json:"n,omitempty"`
}

type summaryJSON struct {
	SpanS   float64            `json:"span_s"`
	StatesS map[string]float64 `json:"states_s"`
	Starts  uint64             `json:"starts"`
	// WaterM3 is null where nothing measured it.
	WaterM3  *float64    `json:"water_m3"`
	EnergyJ  float64     `json:"energy_j"`
	ThroughS float64     `json:"through_s"`
	Limits   []limitJSON `json:"limits"`
	Alarms   []alarmJSON `json:"alarms"`
}

type limitJSON struct {
	Rule          string   `json:"rule"`
	Unit          string   `json:"unit"`
	BeyondWarnS   float64  `json:"beyond_warn_s"`
	BeyondActS    float64  `json:"beyond_act_s"`
	Severity      float64  `json:"severity_unit_s"`
	WatchedS      float64  `json:"watched_s"`
	BlindS        float64  `json:"blind_s"`
	WorstHeadroom *float64 `json:"worst_headroom,omitempty"`
	WorstAtS      *float64 `json:"worst_at_s,omitempty"`
}

type alarmJSON struct {
	Alarm   string   `json:"alarm"`
	Title   string   `json:"title"`
	Level   string   `json:"level"`
	OnsetS  float64  `json:"onset_s"`
	RaisedS float64  `json:"raised_s"`
	GoneS   *float64 `json:"gone_s,omitempty"`
	First   bool     `json:"first_out,omitempty"`
	Under   string   `json:"under,omitempty"`
	AckedBy string   `json:"acknowledged_by,omitempty"`
	AckedS  *float64 `json:"acknowledged_s,omitempty"`
}

// WriteJSON writes the account as one JSON object: numbers in SI and seconds
// of the boot's monotonic time, texts in the units of sys.
func (a *Account) WriteJSON(w io.Writer, sys units.System) error {
	h := &a.Head
	out := accountJSON{
		Run: h.ID.String(), Machine: h.Machine, Software: h.Software, Config: h.Config, Clock: h.Clock.Words(),
		FromS: h.From.Seconds(), ToS: h.To.Seconds(), StartS: h.Start.Seconds(), EndS: h.End.Seconds(), Ended: h.Ended,
		Units: sys.String(), Sentences: sentencesJSON(a.Sentences, sys), CannotTell: sentencesJSON(a.CannotTell, sys),
		Summary: a.Summary.json(), Readings: string(h.Source.Readings), Imported: h.Source.Name, Caution: h.Source.Band(),
	}
	if !h.StartWall.IsZero() {
		out.StartWall = h.StartWall.UTC().Format(time.RFC3339Nano)
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(&out)
}

func sentencesJSON(list []Sentence, sys units.System) []sentenceJSON {
	out := make([]sentenceJSON, 0, len(list))
	for i := range list {
		s := &list[i]
		x := sentenceJSON{
			N: s.N, Kind: s.Kind, FromS: s.From.Seconds(), ToS: s.To.Seconds(), Level: s.Level, Text: s.Text(sys),
			Evidence: make([]evidenceJSON, 0, len(s.Evidence)),
		}
		for k := range s.Evidence {
			x.Evidence = append(x.Evidence, s.Evidence[k].json())
		}
		out = append(out, x)
	}
	return out
}

func (e *Evidence) json() evidenceJSON {
	x := evidenceJSON{Basis: e.Basis, FromNs: int64(e.From), ToNs: int64(e.To), Figure: e.Figure, Count: e.Count, Name: e.Name, N: e.N}
	if e.Channel < frame.NumChannels {
		x.Channel = e.Channel.String()
	}
	if e.HasValue {
		x.Value = &e.Value
	}
	return x
}

func (s *Summary) json() summaryJSON {
	out := summaryJSON{
		SpanS: s.Span.Seconds(), StatesS: map[string]float64{}, Starts: s.Starts, EnergyJ: s.EnergyJ,
		ThroughS: s.Through.Seconds(), Limits: make([]limitJSON, 0, len(s.Limits)), Alarms: make([]alarmJSON, 0, len(s.Alarms)),
	}
	if s.HasWater {
		out.WaterM3 = &s.WaterM3
	}
	for _, st := range s.States {
		out.StatesS[st.State.String()] = st.Seconds
	}
	for i := range s.Limits {
		out.Limits = append(out.Limits, s.Limits[i].json())
	}
	for i := range s.Alarms {
		out.Alarms = append(out.Alarms, s.Alarms[i].json())
	}
	return out
}

func (l *LimitSum) json() limitJSON {
	x := limitJSON{
		Rule: l.Rule.String(), Unit: units.SISymbol(l.Rule.Spec().Difference), BeyondWarnS: l.BeyondWarnS, BeyondActS: l.BeyondActS,
		Severity: l.Severity, WatchedS: l.WatchedS, BlindS: l.BlindS,
	}
	if l.HasWorst {
		at := l.Worst.T.Seconds()
		x.WorstHeadroom, x.WorstAtS = &l.Worst.Headroom, &at
	}
	return x
}

func (a *AlarmLife) json() alarmJSON {
	x := alarmJSON{
		Alarm: a.Name, Title: a.Title, Level: a.Level.String(), OnsetS: a.Onset.Seconds(), RaisedS: a.Raised.Seconds(),
		First: a.First, Under: a.Under, AckedBy: a.AckedBy,
	}
	if a.HasGone {
		gone := a.Gone.Seconds()
		x.GoneS = &gone
	}
	if a.HasAck {
		at := a.Acked.Seconds()
		x.AckedS = &at
	}
	return x
}
