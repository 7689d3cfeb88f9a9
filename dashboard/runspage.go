package dashboard

import (
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"headroom/daemon/review"
	"headroom/daemon/store"
	"headroom/rules/units"
	"headroom/rules/words"
)

const (
	// runsPerPage fits a phone's patience.
	runsPerPage = 25
	// lastPage is beyond any record, and small enough that the number of its
	// first run is one on a board of 32 bits, too.
	lastPage = 1_000_000
)

// runsView is the list of runs.
type runsView struct {
	chrome
	Filter runsFilter
	Rows   []runRow
	// Count says how many there are, and how many the filter lets through; Total
	// are all entries.
	Count string
	Total int
	// Older and Newer lead to the neighbouring pages; empty where there is none.
	Older, Newer string
	// Season is the picture of all days, Months the way into each.
	Season template.HTML
	// Practice says that these are runs of a simulator or a recording.
	Practice bool
	Months   []monthLink
}

// runsFilter is what somebody looks for.
type runsFilter struct {
	// Text in titles of alarms, names, and notes.
	Text string
	// From and To are days, as 2026-11-25; empty for no bound.
	From, To string
	// Incidents leaves only those with an alarm of level warning or act.
	Incidents bool
	page      int
}

// runRow is a run in the list.
type runRow struct {
	// ID names it in addresses, Name for people.
	ID, Name, Href     string
	Began, Lasted, End string
	// First is the first alarm in words, Alarms how many came; Tone is that of
	// the page, Word what stands beside the icon.
	First, Alarms, Tone, Word string
	Water, Energy, Worst      string
	// Marks are what is special about it: imported, cut off, going on.
	Marks []string
}

func filterOf(q url.Values) runsFilter {
	f := runsFilter{Text: strings.TrimSpace(q.Get("q")), From: q.Get("from"), To: q.Get("to"), Incidents: q.Get("incidents") != ""}
	f.page, _ = strconv.Atoi(q.Get("page"))
	f.page = min(max(f.page, 0), lastPage)
	return f
}

// Any reports whether something is left out.
func (f runsFilter) Any() bool { return f.Text != "" || f.From != "" || f.To != "" || f.Incidents }

// address keeps the filter in the address of another page.
func (f runsFilter) address(page int) string {
	q := url.Values{}
	set := func(k, v string) {
		if v != "" {
			q.Set(k, v)
		}
	}
	set("q", f.Text)
	set("from", f.From)
	set("to", f.To)
	if f.Incidents {
		q.Set("incidents", "1")
	}
	if page > 0 {
		q.Set("page", strconv.Itoa(page))
	}
	if len(q) == 0 {
		return placeRuns
	}
	return placeRuns + "?" + q.Encode()
}

func (s *server) runsPage(w http.ResponseWriter, r *http.Request) {
	rec, leave, no := s.record(r)
	if no != nil {
		s.refuseRun(w, r, no.code, no.text)
		return
	}
	defer leave()
	v := &runsView{chrome: s.chrome(r, "Runs", placeRuns), Filter: filterOf(r.URL.Query())}
	v.CanUnits = true
	runs, err := rec.ListEntries(r.Context(), 0)
	if err != nil {
		s.cannotRead(w, r, err)
		return
	}
	v.Total = len(runs)
	v.Season, v.Months = season(ofTheSeason(runs, false), s.opt.Now())
	if v.Season == "" && s.opt.Source != "" { // a demo has its own
		v.Season, v.Months = season(ofTheSeason(runs, true), s.opt.Now())
		v.Practice = v.Season != ""
	}
	found, err := v.Filter.choose(r.Context(), rec, runs)
	if err != nil {
		v.Trouble = asSentence(err)
	}
	v.Count = countRuns(runs, found)
	at := min(v.Filter.page*runsPerPage, len(found))
	for i := range found[at:min(at+runsPerPage, len(found))] {
		v.Rows = append(v.Rows, runRowOf(&found[at+i], s.prefsOf(r).Units))
	}
	if at > 0 {
		v.Newer = v.Filter.address(v.Filter.page - 1)
	}
	if at+runsPerPage < len(found) {
		v.Older = v.Filter.address(v.Filter.page + 1)
	}
	s.write(w, r, "runs.html", v)
}

type dayError string

func (e dayError) Error() string {
	return "cannot read the day " + strconv.Quote(string(e)) + ": write it as 2026-11-25"
}

func dayStart(day string) (time.Time, error) {
	if day == "" {
		return time.Time{}, nil
	}
	t, err := time.ParseInLocation(time.DateOnly, day, time.Local)
	if err != nil {
		return t, dayError(day)
	}
	return t, nil
}

func runRowOf(run *store.Run, sys units.System) runRow {
	row := runRow{
		ID: run.ID.String(), Name: sentence(run.ID.Words()), Href: runPath(run.ID, nil), Began: began(run.StartWall), Tone: "normal", Word: "no alarm",
	}
	if run.ID.N > 0 {
		row.Lasted, row.Worst = lasting((run.End - run.Start).Seconds()), leastRoom(run, sys)
	}
	if run.ID.N > 0 && run.Summary.Sums.MeasuredWater() {
		row.Water = show(units.Volume, sys, run.Summary.Sums.WaterM3)
	}
	if run.Summary.Sums.EnergyJ > 0 {
		row.Energy = show(units.Energy, sys, run.Summary.Sums.EnergyJ) + " (volts times amps)"
	}
	switch {
	case run.Incidents > 0:
		row.Tone, row.Word = "warning", counted(run.Incidents, "alarm of weight", "alarms of weight")
	case run.Raised > 0:
		row.Tone, row.Word = "advice", counted(run.Raised, "advice", "pieces of advice")
	}
	if run.FirstOut != "" {
		row.First = alarmTitle(run.FirstOut)
	}
	if run.Source.Readings.Practice() {
		row.Marks = append(row.Marks, run.Source.Short()+" – practice, counts for no machine")
	}
	if run.Source.Name != "" {
		row.Marks = append(row.Marks, "imported from "+run.Source.Name)
	}
	switch {
	case run.ID.N == 0:
		row.Marks = append(row.Marks, "outside of runs")
	case run.Ended == "":
		row.Marks = append(row.Marks, "going on")
	case run.Ended == "cut":
		row.Marks = append(row.Marks, "cut off, as by the power")
	}
	return row
}

// countRuns says how many entries there are, and how many of them were found.
func countRuns(all, found []store.Run) string {
	runs := 0
	for i := range all {
		runs += min(all[i].ID.N, 1)
	}
	out := counted(runs, "run", "runs")
	if boots := len(all) - runs; boots > 0 {
		out += ", " + counted(boots, "boot", "boots") + " with alarms outside of runs"
	}
	if len(found) != len(all) {
		out = strconv.Itoa(len(found)) + " of " + out
	}
	return out
}

// counted is a number with its noun.
func counted(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + more
}

// began is a run's date and time for a list.
func began(t time.Time) string {
	if t.IsZero() || !clockSet(t) {
		return "clock not set"
	}
	return t.Local().Format("2006-01-02 15:04")
}

// leastRoom is the limit that a run came closest to; empty for none.
func leastRoom(run *store.Run, sys units.System) string {
	l := review.LeastRoom(review.LimitsOf(&run.Summary))
	if l == nil {
		return ""
	}
	return words.Rule(l.Rule) + ": " + review.Room(l, sys)
}
