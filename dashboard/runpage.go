package dashboard

import (
	"html/template"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"headroom/daemon/report"
	"headroom/daemon/review"
	"headroom/daemon/store"
	"headroom/dashboard/chart"
	"headroom/rules/engine"
	"headroom/rules/units"
	"headroom/rules/words"
)

const (
	// leastSpan is as close as it gets: two frames of ten a second.
	leastSpan = 200 * time.Millisecond
	// around is what is shown on each side of a sentence's evidence, at least.
	around = 5 * time.Second
	// maxNote is the longest note.
	maxNote = 1000
)

// runView is one run to look at.
type runView struct {
	chrome
	// Name is the run's, or the boot's.
	Name, Href string
	Facts      []factRow
	Sheet      template.HTML
	Window     string
	Zooms      []navLink
	Axis       axisData
	Short      []string
	Happened   []toldRow
	// Further are the sentences after the first few.
	Further   []toldRow
	CannotSay []toldRow
	Alarms    []lifeRow
	// FurtherAlarms came after the first few.
	FurtherAlarms []lifeRow
	Limits        []limitSumRow
	Notes         []noteRow
	CanNote       bool
	Who           string
	Chain         string
	// Query keeps the window in other addresses.
	Query template.URL
}

type factRow struct{ Name, Value string }

// axisData is what a script needs to tell a place on the picture from a time.
type axisData struct {
	From, To string
	// Base is the address without the window, Series where the figures are.
	Base, Series string
}

// toldRow is a sentence of the account.
type toldRow struct {
	N                  int
	Since, Clock, Text string
	Tone               string
	// Rests says what it rests on, Show leads to that place of the chart.
	Rests, Show string
	Chosen      bool
}

type lifeRow struct{ Since, Title, Level, Tone, Until, Acked, Mark string }

type limitSumRow struct{ Rule, Room, At, BeyondAct, BeyondWarn, Blind string }

type noteRow struct{ When, Who, Text string }

// span is the part of a run that is looked at, in the boot's monotonic time.
type span struct{ from, to time.Duration }

// spanOf reads from and to, seconds since the start of the run, within what the
// account tells of.
func spanOf(q url.Values, h *review.Head) span {
	at := func(key string, without time.Duration) time.Duration {
		v, err := strconv.ParseFloat(q.Get(key), 64)
		if err != nil || math.IsNaN(v) || math.Abs(v) > 1e9 {
			return without
		}
		return h.Start + time.Duration(v*float64(time.Second))
	}
	return span{at("from", h.From), at("to", h.To)}.within(h)
}

// within keeps a span inside the account and no shorter than leastSpan.
func (s span) within(h *review.Head) span {
	s.from = min(max(s.from, h.From), max(h.To-leastSpan, h.From))
	s.to = max(min(s.to, h.To), min(s.from+leastSpan, h.To))
	return s
}

// wishes are the span in an address.
func (s span) wishes(h *review.Head) url.Values {
	sec := func(t time.Duration) string { return strconv.FormatFloat((t - h.Start).Seconds(), 'f', -1, 64) }
	return url.Values{"from": {sec(s.from)}, "to": {sec(s.to)}}
}

// words tell the span.
func (s span) words(h *review.Head) string {
	return h.Since(s.from) + " to " + h.Since(s.to) + ", " + lasting((s.to - s.from).Seconds())
}

// moved is the span shifted by a share of its length, scaled about its middle.
func (s span) moved(shift, scale float64) span {
	n := float64(s.to - s.from)
	mid := float64(s.from) + n/2 + shift*n
	return span{time.Duration(mid - n*scale/2), time.Duration(mid + n*scale/2)}
}

// zooms are the ways to other spans of a page whose address is made by path. The
// whole stays reachable from anywhere.
func zooms(path func(url.Values) string, s span, h *review.Head) []navLink {
	var out []navLink
	add := func(label string, t span) {
		t = t.within(h)
		out = append(out, navLink{Href: path(t.wishes(h)) + "#chart", Label: label, Current: t == s})
	}
	add("The whole", span{h.From, h.To})
	whole := out[0].Current
	add("Closer", s.moved(0, 0.4))
	add("Wider", s.moved(0, 2.5))
	add("Earlier", s.moved(-0.5, 1))
	add("Later", s.moved(0.5, 1))
	for i := range out[1:] {
		// Beyond the whole there is nothing: these ways lead nowhere else.
		out[1+i].Current = out[1+i].Current && !whole
	}
	return out
}

func (s *server) runPage(w http.ResponseWriter, r *http.Request, a asked) {
	look, err := s.looks.look(r.Context(), a.rec, a.run)
	if err != nil {
		s.cannotRead(w, r, err)
		return
	}
	sys, h := s.prefsOf(r).Units, &look.Account.Head
	id := a.run.ID
	v := &runView{chrome: s.chrome(r, sentence(id.Words()), placeRuns), Name: id.Words(), Href: runPath(id, nil), CanNote: s.opt.Note != nil, Who: cookieName(r)}
	v.CanUnits, v.Script, v.Band = true, "review.js", a.run.Source.Band()
	part := spanOf(r.URL.Query(), h)
	sheet, err := look.Sheet(r.Context(), a.rec, sys, part.from, part.to)
	if err != nil {
		s.cannotRead(w, r, err)
		return
	}
	v.Sheet = drawSheet(sheet)
	v.Window = part.words(h)
	v.Zooms, v.Query = zooms(func(q url.Values) string { return runPath(id, q) }, part, h), template.URL(part.wishes(h).Encode()) // #nosec: numbers.
	wish := part.wishes(h)
	v.Axis = axisData{
		From: wish.Get("from"), To: wish.Get("to"),
		Base: runPath(id, nil), Series: seriesPath(id, wish),
	}
	v.fill(look, a, r.URL.Query().Get("see"), sys)
	if v.Notes, err = notesOf(r, a); err != nil {
		s.cannotRead(w, r, err)
		return
	}
	v.Chain = chainWords(r, a)
	s.write(w, r, "run.html", v)
}

// seriesPath is where the figures of a part of a run are.
func seriesPath(id store.RunID, part url.Values) string {
	return "/api/v1/runs/" + id.String() + "/series?" + part.Encode()
}

// drawSheet draws a sheet for each width of screen; the style sheet shows one.
func drawSheet(sheet chart.Sheet) template.HTML {
	var all strings.Builder
	id := sheet.ID
	for class, width := range []float64{chart.NarrowWidth, chart.MiddleWidth, chart.PrintWidth} {
		sheet.Class = []string{"for-phone", "for-tablet", "for-paper"}[class]
		sheet.ID, sheet.Width = id+"-"+sheet.Class, width
		all.WriteString(sheet.SVG())
	}
	return template.HTML(all.String()) // #nosec: package chart escapes every text.
}

// fill puts the account into rows.
func (v *runView) fill(look *report.Look, a asked, see string, sys units.System) {
	acc := look.Account
	h := &acc.Head
	v.Facts, v.Short = runFacts(acc, a, sys), inShort(acc)
	for i := range acc.Sentences {
		v.Happened = append(v.Happened, toldRowOf(look, &acc.Sentences[i], a.run.ID, see, sys))
	}
	v.Happened, v.Further = foldRows(v.Happened)
	for i := range acc.CannotTell {
		v.CannotSay = append(v.CannotSay, toldRowOf(look, &acc.CannotTell[i], a.run.ID, see, sys))
	}
	for i := range acc.Summary.Alarms {
		v.Alarms = append(v.Alarms, lifeRowOf(h, &acc.Summary.Alarms[i]))
	}
	n := fold(len(v.Alarms), 0)
	v.Alarms, v.FurtherAlarms = v.Alarms[:n], v.Alarms[n:]
	for i := range acc.Summary.Limits {
		v.Limits = append(v.Limits, limitSumRowOf(h, &acc.Summary.Limits[i], sys))
	}
}

// fold returns how many of n rows stand on the page at once; the rest is folded.
// All of them where the fold would hold little, and never fewer than least.
func fold(n, least int) int {
	if n <= openRows+openRows/4 {
		return n
	}
	return max(openRows, least)
}

// foldRows keeps what somebody came to see out of the fold.
func foldRows(rows []toldRow) (open, further []toldRow) {
	chosen := 0
	for i := range rows {
		if rows[i].Chosen {
			chosen = i + 1
		}
	}
	n := fold(len(rows), chosen)
	return rows[:n], rows[n:]
}

func runFacts(acc *review.Account, a asked, sys units.System) []factRow {
	h, sum := &acc.Head, &acc.Summary
	out := []factRow{{"Began", h.Began(time.Local)}, {"Lasted", lasting((h.End - h.Start).Seconds())}, {"Machine", review.OrUnknown(h.Machine)}}
	switch {
	case h.ID.N == 0:
		out = append(out, factRow{"Alarms outside of runs", strconv.Itoa(a.run.Raised)}, factRow{"First of them", alarmTitle(a.run.FirstOut)})
	case a.run.FirstOut != "":
		out = append(out, factRow{"First alarm", alarmTitle(a.run.FirstOut)})
	default:
		out = append(out, factRow{"Alarms", "none"})
	}
	for _, st := range sum.States {
		out = append(out, factRow{sentence(st.State.Words()), lasting(st.Seconds)})
	}
	if h.ID.N > 0 { // a boot has no sums
		out = append(out, factRow{"Starts", strconv.FormatUint(sum.Starts, 10)}, factRow{"Water drawn", sum.Water(sys)})
	}
	if sum.EnergyJ > 0 {
		out = append(out, factRow{"Energy (volts times amps)", show(units.Energy, sys, sum.EnergyJ)})
	}
	if a.run.Source.Imported() {
		out = append(out, factRow{"Imported from", a.run.Source.Name})
	}
	return append(out, factRow{"Recorded by", "headroom " + review.OrUnknown(h.Software)})
}

func toldRowOf(look *report.Look, x *review.Sentence, id store.RunID, see string, sys units.System) toldRow {
	h := &look.Account.Head
	row := toldRow{N: x.N, Text: x.Text(sys), Rests: look.Rests(x, sys), Chosen: see == strconv.Itoa(x.N) && x.Kind != review.KindLimit, Tone: "normal"}
	if x.Kind == review.KindAlarm {
		row.Tone = tone(engine.Level(x.Level))
	}
	if x.Kind == review.KindExposure || x.Kind == review.KindLimit {
		return row
	}
	row.Since, row.Clock = h.Since(x.From), h.ClockTime(x.From, time.Local)
	part := evidenceSpan(x).within(h)
	wish := part.wishes(h)
	wish.Set("see", strconv.Itoa(x.N))
	row.Show = runPath(id, wish) + "#chart"
	return row
}

// evidenceSpan is the time that a sentence rests on, with something on each
// side to see it against.
func evidenceSpan(x *review.Sentence) span {
	s := span{x.From, x.To}
	for i := range x.Evidence {
		if e := &x.Evidence[i]; e.Basis == review.OnSamples || e.Basis == review.OnFrames {
			s.from, s.to = min(s.from, e.From), max(s.to, e.To)
		}
	}
	side := max(around, (s.to-s.from)/4)
	return span{s.from - side, s.to + side}
}

func lifeRowOf(h *review.Head, l *review.AlarmLife) lifeRow {
	row := lifeRow{Since: h.Since(l.Raised), Title: l.Title, Level: l.Level.Words(), Tone: tone(l.Level), Until: "to the end"}
	if l.HasGone {
		row.Until = "for " + lasting((l.Gone - l.Raised).Seconds())
	}
	if l.HasAck {
		row.Acked = "acknowledged " + h.Since(l.Acked) + " by " + l.AckedBy
	}
	switch {
	case l.First:
		row.Mark = "came first"
	case l.Under != "":
		row.Mark = "follows from “" + l.UnderTitle() + "”"
	}
	return row
}

func limitSumRowOf(h *review.Head, l *review.LimitSum, sys units.System) limitSumRow {
	row := limitSumRow{Rule: words.Rule(l.Rule), Room: "–", BeyondAct: lasting(l.BeyondActS), BeyondWarn: lasting(l.BeyondWarnS), Blind: lasting(l.BlindS)}
	if l.HasRoom() {
		row.Room, row.At = review.Room(l, sys), h.Since(l.Worst.T)
	}
	return row
}

func notesOf(r *http.Request, a asked) (out []noteRow, err error) {
	acts, err := a.rec.ActsSince(r.Context(), a.run.ID.Boot)
	if err != nil {
		return nil, err
	}
	for _, n := range notesAbout(acts, a.run.ID) {
		out = append(out, noteRow{began(n.Wall), n.Who, n.Text})
	}
	return out, nil
}

// runNote keeps what a person writes about a run.
func (s *server) runNote(w http.ResponseWriter, r *http.Request, a asked) {
	text := cleanNote(r.FormValue("note"))
	if text == "" {
		s.refuseRun(w, r, http.StatusBadRequest, "The note is empty; nothing was kept.")
		return
	}
	if err := s.opt.Note(r.Context(), noteAbout, aboutRun(a.run.ID)+text, s.whoOf(r)); err != nil {
		s.refuseRun(w, r, http.StatusServiceUnavailable, "The note could not be kept: "+asSentence(err))
		return
	}
	http.Redirect(w, r, runPath(a.run.ID, nil)+"#notes", http.StatusSeeOther)
}

// cleanNote takes line ends and invisible characters out of a note.
func cleanNote(text string) string {
	runes := []rune(strings.Join(strings.Fields(store.Plain(text)), " "))
	return string(runes[:min(len(runes), maxNote)])
}
