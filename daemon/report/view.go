package report

import (
	"fmt"
	"html/template"
	"strings"
	"time"

	"headroom/daemon/review"
	"headroom/daemon/store"
	"headroom/dashboard/chart"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/rules/words"
)

// page is what the template prints: texts only.
type page struct {
	Lang, Title, Subtitle, Paper string
	// Band stands across the top, and Every across each printed page, where
	// the readings are not this machine's own; empty else.
	Band  string
	Every template.CSS
	// Left and Right stand at the foot of each printed page, as CSS strings.
	Left, Right   template.CSS
	Facts, Brief  []pair
	Happened      []told
	Charts, Zooms []drawn
	Alarms        []alarmRow
	Limits        []limitRow
	CannotTell    []told
	Settings      []group
	NoSettings    string
	Proof         Proof
	Cautions      []string
}

type pair struct{ Name, Value string }

// told is a sentence with its number, its times and what it rests on.
type told struct {
	N                 int
	Clock, Since      string
	Text, Rests, Mark string
}

type drawn struct {
	Name string
	SVG  template.HTML
}

type alarmRow struct {
	Since, Clock, Severity, Title, Value, Until, Acked, Cause string
	First, Strong                                             bool
}

type limitRow struct{ Rule, Room, At, BeyondAct, BeyondWarn, Blind string }

type group struct {
	Name string
	Rows []pair
}

// view puts the report into texts.
func (p *Report) view() *page {
	h := &p.Account.Head
	v := &page{
		Lang: "en", Title: "Report of " + h.ID.Words(), Paper: string(p.Options.paper()), Subtitle: review.Named(h.Machine),
		Proof: p.Proof, Cautions: cautions,
	}
	if v.Band = h.Source.Band(); v.Band != "" {
		v.Every = cssText(everyPage(h.Source))
	}
	v.Left = cssText(v.Title + " · " + review.Named(h.Machine) + " · " + h.Clock.Words())
	v.Right = cssText("headroom " + p.Options.Software + " · page ")
	v.Facts, v.Brief = p.facts(), p.brief()
	for i := range p.Account.Sentences {
		v.Happened = append(v.Happened, p.told(&p.Account.Sentences[i]))
	}
	for i := range p.Account.CannotTell {
		v.CannotTell = append(v.CannotTell, p.told(&p.Account.CannotTell[i]))
	}
	v.Charts, v.Zooms = draw(p.Charts), draw(p.CloseUps)
	for i := range p.Account.Summary.Alarms {
		v.Alarms = append(v.Alarms, p.alarm(&p.Account.Summary.Alarms[i]))
	}
	for i := range p.Account.Summary.Limits {
		v.Limits = append(v.Limits, p.limit(&p.Account.Summary.Limits[i]))
	}
	v.Settings, v.NoSettings = p.settings()
	return v
}

// everyPage is what each sheet of practice or of foreign readings says.
func everyPage(s store.Source) string {
	switch {
	case s.Readings == store.FromSimulator:
		return "SIMULATED – practice only"
	case s.Readings == store.FromPlayback:
		return "PLAYED BACK – practice only"
	}
	return "IMPORTED from " + s.Name
}

// cssText quotes a text for a style sheet.
func cssText(s string) template.CSS {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		if r < 0x20 || r == '"' || r == '\\' || r == '<' || r == '>' || r == '&' {
			fmt.Fprintf(&b, `\%06x`, r)
			continue
		}
		b.WriteRune(r)
	}
	b.WriteByte('"')
	return template.CSS(b.String()) // #nosec: quoted above.
}

func draw(sheets []chart.Sheet) (out []drawn) {
	for i := range sheets {
		out = append(out, drawn{sheets[i].Name, template.HTML(sheets[i].SVG())}) // #nosec: package chart escapes every text.
	}
	return out
}

// duration writes seconds for people.
func (p *Report) duration(s float64) string {
	return units.Format(units.Duration, p.Options.Units, s)
}

func (p *Report) facts() []pair {
	h := &p.Account.Head
	out := []pair{
		{"Machine", review.Named(h.Machine)},
		{"Readings from", readingsFrom(h.Source)},
		{"Began", h.Began(p.Options.Zone)},
		{"Lasted", p.duration((h.End - h.Start).Seconds())},
	}
	if h.ID.N > 0 {
		out = append(out, pair{"Ended", review.Ended(h.Ended)})
	}
	out = append(out,
		pair{"Told from, to", h.Since(h.From) + " to " + h.Since(h.To) + " (counted from the start)"},
		pair{"Recorded by", "headroom " + review.OrUnknown(h.Software)},
		pair{"Settings in force", "SHA-256 " + review.OrUnknown(h.Config)},
		pair{"Calibrations in force", p.calibration()},
	)
	if p.Proof.Head != "" {
		out = append(out, pair{"Record", p.Proof.Record}, pair{"Head of its chain", p.Proof.Head})
	}
	return out
}

// readingsFrom says what gave the readings.
func readingsFrom(s store.Source) string {
	words := map[store.Readings]string{
		store.NotTold: "not told by the record", store.FromSensors: "this machine's sensors",
		store.FromSimulator: "the simulator, an invented machine", store.FromPlayback: "a recording that was played back",
	}[s.Readings]
	if s.Imported() {
		return words + "; imported from " + s.Name
	}
	return words
}

func (p *Report) calibration() string {
	if p.Calibration == "" {
		return "the record holds none: readings are as the settings in force convert them"
	}
	return "SHA-256 " + p.Calibration
}

// brief is the summary in a few figures.
func (p *Report) brief() (out []pair) {
	s := &p.Account.Summary
	h := &p.Account.Head
	first, strong := "none", 0
	for i := range s.Alarms {
		a := &s.Alarms[i]
		if a.Level >= engine.Act {
			strong++
		}
		if i == 0 {
			first = a.Title + ", " + h.Since(a.Raised)
		}
	}
	out = append(out, pair{"Alarms", fmt.Sprintf("%d, of which %d asked to act now", len(s.Alarms), strong)}, pair{"First-out", first})
	if w := review.LeastRoom(s.Limits); w != nil {
		out = append(out, pair{"Least room", words.Rule(w.Rule) + ": " + review.Room(w, p.Options.Units) + ", " + h.Since(w.Worst.T)})
	}
	for _, st := range s.States {
		out = append(out, pair{upper(st.State.Words()), p.duration(st.Seconds)})
	}
	if h.ID.N == 0 {
		return out
	}
	out = append(out, pair{"Starts of the pump", fmt.Sprint(s.Starts)}, pair{"Water drawn", s.Water(p.Options.Units)})
	if s.EnergyJ > 0 {
		out = append(out, pair{"Energy (volts times amps)", units.Format(units.Energy, p.Options.Units, s.EnergyJ)})
	}
	return out
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func (p *Report) told(s *review.Sentence) told {
	h := &p.Account.Head
	out := told{N: s.N, Text: s.Text(p.Options.Units), Rests: p.rests(s)}
	if s.Kind != review.KindExposure && s.Kind != review.KindLimit {
		out.Clock, out.Since = h.ClockTime(s.From, p.Options.Zone), h.Since(s.From)
	}
	switch {
	case s.Kind == review.KindAct:
		out.Mark = "act"
	case s.Level >= uint8(engine.Act) && s.Kind == review.KindAlarm:
		out.Mark = "strong"
	}
	return out
}

func (p *Report) alarm(a *review.AlarmLife) alarmRow {
	h := &p.Account.Head
	r := alarmRow{
		Since: h.Since(a.Raised), Clock: h.ClockTime(a.Raised, p.Options.Zone), Severity: a.Level.Words(), Title: a.Title,
		First: a.First, Strong: a.Level >= engine.Act, Until: "stood at the end", Value: p.value(a),
	}
	if a.HasGone {
		r.Until = p.duration((a.Gone - a.Raised).Seconds())
	}
	if a.HasAck {
		r.Acked = orSomebody(a.AckedBy) + ", after " + p.duration((a.Acked - a.Raised).Seconds())
	}
	if a.Under != "" {
		r.Cause = "follows from: " + a.UnderTitle()
	} else if id, ok := engine.AlarmByName(a.Name); ok {
		r.Cause = "usually: " + words.Alarm(id).Cause
	}
	return r
}

func orSomebody(who string) string {
	if who == "" {
		return "no name given"
	}
	return who
}

// value is what an alarm's rule said, against its limit.
func (p *Report) value(a *review.AlarmLife) string {
	if st, ok := frame.StatusByName(a.Status); ok && a.Status != "" {
		return st.Words()
	}
	r, ok := a.Rule()
	q := r.Spec().Quantity
	if !ok || !a.HasValue || q == units.Switch {
		return ""
	}
	show := func(v float64) string {
		if w, ok := words.Grade(r, v); ok {
			return w
		}
		return units.Format(q, p.Options.Units, v)
	}
	return show(a.Value) + " / " + show(a.Limit)
}

func (p *Report) limit(l *review.LimitSum) limitRow {
	r := limitRow{Rule: words.Rule(l.Rule), Room: "–", BeyondAct: "–", BeyondWarn: "–", Blind: "–"}
	if l.HasRoom() {
		r.Room, r.At = review.Room(l, p.Options.Units), p.Account.Head.Since(l.Worst.T)
	}
	for _, x := range []struct {
		to *string
		s  float64
	}{{&r.BeyondAct, l.BeyondActS}, {&r.BeyondWarn, l.BeyondWarnS}, {&r.Blind, l.BlindS}} {
		if x.s >= 0.05 {
			*x.to = p.duration(x.s)
		}
	}
	return r
}

// seconds writes a delay.
func (p *Report) seconds(d time.Duration) string { return p.duration(d.Seconds()) }
