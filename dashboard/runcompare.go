package dashboard

import (
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"time"

	"headroom/daemon/report"
	"headroom/daemon/review"
	"headroom/daemon/store"
	"headroom/rules/units"
)

// compareView sets two runs side by side.
type compareView struct {
	chrome
	// A and B are the runs' names; empty while they are still to be chosen.
	A, B   string
	Choice []runRow
	Rows   []compareRow
	Sheets []compareSheet
	// Window, Zooms and Axis are those of both sheets: time counts from the start
	// of each run.
	Window string
	Zooms  []navLink
	Axis   axisData
}

// compareRow is one figure of both runs; empty where a run hasn't it.
type compareRow struct{ Name, A, B string }

// compareSheet is one run's picture. Series is where its figures are.
type compareSheet struct {
	Name, Series string
	SVG          template.HTML
}

// choices is how many runs are offered.
const choices = 50

func (s *server) comparePage(w http.ResponseWriter, r *http.Request) {
	rec, leave, no := s.record(r)
	if no != nil {
		s.refuseRun(w, r, no.code, no.text)
		return
	}
	defer leave()
	v := &compareView{chrome: s.chrome(r, "Compare two runs", placeRuns), A: r.FormValue("a"), B: r.FormValue("b")}
	v.CanUnits = true
	sys := s.prefsOf(r).Units
	runs, err := rec.ListRuns(r.Context(), choices)
	if err != nil {
		s.cannotRead(w, r, err)
		return
	}
	for i := range runs {
		v.Choice = append(v.Choice, runRowOf(&runs[i], sys))
	}
	if v.A != "" && v.B != "" {
		if err := v.compare(r, rec, s, sys); err != nil {
			v.Trouble, v.Rows, v.Sheets = asSentence(err), nil, nil
		}
	}
	s.write(w, r, "runcompare.html", v)
}

// compare fills in both runs, drawn over the same length of time so that the
// eye can compare.
func (v *compareView) compare(r *http.Request, rec Recorded, s *server, sys units.System) error {
	var both [2]*report.Look
	var asks [2]asked
	length := time.Duration(0)
	for i, name := range []string{v.A, v.B} {
		id, err := store.ParseRunID(name)
		if err != nil {
			return err
		}
		run, err := rec.Run(r.Context(), id)
		if err != nil {
			return err
		}
		asks[i] = asked{rec, run}
		if band := run.Source.Band(); band != "" {
			v.Band += "Run " + name + ": " + band + " "
		}
		if both[i], err = s.looks.look(r.Context(), rec, run); err != nil {
			return err
		}
		length = max(length, run.End-run.Start)
	}
	part := v.part(r.URL.Query(), max(length, leastSpan))
	for i, l := range both {
		h := &l.Account.Head
		sheet, err := l.Sheet(r.Context(), rec, sys, h.Start+part.from, h.Start+part.to)
		if err != nil {
			return err
		}
		sheet.ID = "r" + string(rune('a'+i))
		id := asks[i].run.ID
		v.Sheets = append(v.Sheets, compareSheet{"Run " + id.String(), seriesPath(id, part.wishes(&review.Head{})), drawSheet(sheet)})
	}
	v.Title, v.Script = "Runs "+v.A+" and "+v.B, "review.js"
	v.Rows = compareRows(figuresOf(both[0], asks[0], sys), figuresOf(both[1], asks[1], sys))
	return nil
}

// part reads which part of both runs is looked at, and sets the ways to others.
func (v *compareView) part(q url.Values, length time.Duration) span {
	// Both begin at 0 here, so one head stands for the two.
	h := &review.Head{To: length}
	part := spanOf(q, h)
	path := func(wishes url.Values) string {
		wishes.Set("a", v.A)
		wishes.Set("b", v.B)
		return "/runs/compare?" + wishes.Encode()
	}
	wish := part.wishes(h)
	v.Window, v.Zooms = part.words(h), zooms(path, part, h)
	v.Axis = axisData{From: wish.Get("from"), To: wish.Get("to"), Base: path(url.Values{})}
	return part
}

// figuresOf are the facts, and the least room to each limit.
func figuresOf(l *report.Look, a asked, sys units.System) []factRow {
	out := runFacts(l.Account, a, sys)
	for i := range l.Account.Summary.Limits {
		row := limitSumRowOf(&l.Account.Head, &l.Account.Summary.Limits[i], sys)
		out = append(out, factRow{row.Rule + ", least room", row.Room})
	}
	return out
}

// compareRows joins two lists by their names, in the order of the first.
func compareRows(a, b []factRow) (out []compareRow) {
	for _, f := range a {
		row := compareRow{Name: f.Name, A: f.Value, B: "–"}
		if k := slices.IndexFunc(b, func(g factRow) bool { return g.Name == f.Name }); k >= 0 {
			row.B = b[k].Value
		}
		out = append(out, row)
	}
	for _, f := range b {
		if !slices.ContainsFunc(a, func(g factRow) bool { return g.Name == f.Name }) {
			out = append(out, compareRow{Name: f.Name, A: "–", B: f.Value})
		}
	}
	return out
}
