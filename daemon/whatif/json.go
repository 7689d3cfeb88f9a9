package whatif

import (
	"encoding/hex"
	"encoding/json"
	"io"

	"headroom/rules/units"
)

type answerJSON struct {
	Run         string    `json:"run"`
	Software    string    `json:"software,omitempty"`
	Readings    string    `json:"readings"`
	Band        string    `json:"band,omitempty"`
	StartS      float64   `json:"start_s"`
	EndS        float64   `json:"end_s"`
	Changed     []setJSON `json:"changed"`
	Headline    string    `json:"headline"`
	Identical   bool      `json:"identical"`
	DigestThen  string    `json:"verdict_digest_then"`
	DigestOther string    `json:"verdict_digest_other"`
	Rows        []rowJSON `json:"rows"`
	AsRecorded  []rowJSON `json:"differs_from_recorded"`
	Lost        []string  `json:"lost"`
	Caution     string    `json:"caution"`
}

type setJSON struct {
	Setting string `json:"setting"`
	Value   string `json:"value"`
}

type rowJSON struct {
	Alarm string   `json:"alarm"`
	Kind  Kind     `json:"kind"`
	LeadS float64  `json:"lead_s"`
	Words string   `json:"words"`
	Then  *oneJSON `json:"then,omitempty"`
	Other *oneJSON `json:"other,omitempty"`
}

type oneJSON struct {
	Level   string   `json:"level"`
	RaisedS float64  `json:"raised_s"`
	GoneS   *float64 `json:"gone_s,omitempty"`
	First   bool     `json:"first_out,omitempty"`
	Under   string   `json:"under,omitempty"`
	Value   float64  `json:"value"`
	Limit   float64  `json:"limit"`
}

// WriteJSON writes the answer as one JSON object; numbers are SI, times in
// seconds of the boot's monotonic time.
func (a *Answer) WriteJSON(w io.Writer, sys units.System) error {
	out := answerJSON{
		Run: a.ID.String(), Software: a.Software, Readings: string(a.Source.Readings), Band: a.Source.Band(), StartS: a.Start.Seconds(), EndS: a.End.Seconds(), Changed: []setJSON{},
		Headline: a.Headline(), Identical: a.Identical, DigestThen: hex.EncodeToString(a.DigestThen), DigestOther: hex.EncodeToString(a.DigestOther),
		Rows: rowsJSON(a.Rows, sys), AsRecorded: rowsJSON(a.Asis, sys), Lost: []string{}, Caution: Caution,
	}
	for i := range a.Changed {
		out.Changed = append(out.Changed, setJSON{a.Changed[i].Name(), a.Changed[i].Value})
	}
	for i := range a.Lost {
		out.Lost = append(out.Lost, a.Lost[i].Error())
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(&out)
}

func rowsJSON(rows []Row, sys units.System) []rowJSON {
	out := make([]rowJSON, 0, len(rows))
	for i := range rows {
		r := &rows[i]
		out = append(out, rowJSON{r.alarm().ID.String(), r.Kind, r.Lead.Seconds(), r.Words(sys), r.Then.json(), r.Other.json()})
	}
	return out
}

func (a *Alarm) json() *oneJSON {
	if a == nil {
		return nil
	}
	x := &oneJSON{Level: a.Level.String(), RaisedS: a.Raised.Seconds(), First: a.First, Value: a.Value, Limit: a.Limit}
	if a.HasGone {
		gone := a.Gone.Seconds()
		x.GoneS = &gone
	}
	if a.HasCause {
		x.Under = a.Under.String()
	}
	return x
}
