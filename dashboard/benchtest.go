package dashboard

import (
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"headroom/daemon/bench"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// benchTestView is the test under way: one step at a time.
type benchTestView struct {
	chrome
	ID, Href, Pump, Who, BenchFrom string
	// Mark names this moment. Watch has a page without a script renew itself.
	Mark  string
	Watch bool
	// Number of Of steps, its Name, what to do, and what is still missing.
	Number, Of          int
	Name, Todo, Waiting string
	// Met says that the machine is as the step asks; Collected of Window
	// seconds are collected then.
	Met bool
	// Halted has the page ask whether a test that was cut off goes on.
	Halted            bool
	Collected, Window string
	NeedsWord         bool
	NeedsValue        bool
	// Unit and examples of a value that a person tells.
	Unit, Example, OffExample string
	CanTake, CanSkip, CanBack bool
	Readings                  []benchReading
	Steps                     []benchStep
	// Last is the point that was taken last; LastName is empty without one.
	LastName   string
	Last       []benchPointReading
	LastAsItIs bool
	// Unkept is why the newest state isn't on the medium; empty when it is.
	Unkept string
}

// benchReading is a channel now, and how it stands in the window.
type benchReading struct {
	Label, Value, Why      string
	Mean, Spread           string
	Good, Decides, Steady  bool
	Collecting, NotDecides bool
}

type benchStep struct {
	Name, State, Why string
	Now              bool
}

// benchPointReading is a channel of a point that was taken.
type benchPointReading struct{ Label, Mean, Spread, Worth, Known string }

func (s *server) benchTestPage(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	l, ok := s.opt.Bench.Look(s.prefsOf(r).Units)
	if ok && l.Record.ID == id && l.Record.State == bench.Running {
		s.write(w, r, "benchtest.html", s.benchTestView(r, &l, ""))
		return
	}
	s.benchResultsPage(w, r)
}

func (s *server) benchTestView(r *http.Request, l *BenchLook, trouble string) *benchTestView {
	sys, rec, look := s.prefsOf(r).Units, l.Record, &l.View
	v := &benchTestView{
		chrome: s.chrome(r, "Bench test", placeBench), ID: rec.ID, Href: benchPath(rec.ID), Pump: pumpName(&rec.Pump), Who: rec.Who, BenchFrom: rec.Source,
		Mark: benchMark(rec), Watch: r.FormValue("watch") != "", Number: look.Number, Of: look.Of, Name: benchStepName(&look.Step, sys), Todo: look.Todo, Met: look.Met,
		Collected: strconv.FormatFloat(look.CollectedS, 'f', 0, 64), Window: strconv.FormatFloat(look.Step.WindowS, 'f', 0, 64),
		Halted: look.Halted, NeedsWord: look.NeedsWord, NeedsValue: look.NeedsValue, CanTake: look.CanTake, CanSkip: look.CanSkip, CanBack: look.CanBack,
	}
	v.Band = rec.PracticeBand()
	v.CanUnits, v.Script, v.Here, v.Trouble, v.Said = true, "bench.js", v.Href, trouble, saidOf(r, benchSaid)
	if v.Waiting = capital(look.Waiting); v.Waiting == "" && !look.Met {
		v.Waiting = "Waiting for the first reading"
	}
	if l.Unkept != nil {
		v.Unkept = asSentence(l.Unkept)
	}
	v.value(look, sys)
	v.readings(l, sys)
	v.steps(look, rec, sys)
	if n := len(rec.Points); n > 0 {
		p := &rec.Points[n-1]
		v.LastName, v.LastAsItIs, v.Last = capital(strings.ReplaceAll(p.Step, "_", " ")), p.AsItIs, pointReadings(rec, p, sys)
	}
	return v
}

// value prepares the form for what a person tells.
func (v *benchTestView) value(look *bench.View, sys units.System) {
	if !look.NeedsValue {
		return
	}
	v.Unit = units.For(look.Quantity, sys).Symbol
	value, off := 7.5e-3/60, 0.05e-3/60
	switch look.Step.Kind {
	case bench.Cup:
		value, off = 2e-6/60, 1e-6/60
	case bench.Reference:
		value, off = 7.7e6, 40e3
	}
	v.Example, v.OffExample = bench.Number(look.Quantity, sys, value), bench.Number(look.Quantity, sys, off)
}

func (v *benchTestView) readings(l *BenchLook, sys units.System) {
	standing := map[frame.Channel]*bench.Standing{}
	for i := range l.Standings {
		standing[l.Standings[i].Channel] = &l.Standings[i]
	}
	for c := range frame.NumChannels {
		smp := l.View.Live[c]
		if c.Digital() || smp.Status == frame.NotFitted {
			continue
		}
		row := benchReading{Label: c.Label(), Value: "--", Good: smp.OK()}
		if row.Good {
			row.Value = show(c.Quantity(), sys, smp.Value)
		} else {
			row.Why = smp.Status.Words()
		}
		if st := standing[c]; st != nil {
			row.Collecting, row.Decides, row.NotDecides = true, st.Decides, !st.Decides
			row.Mean, row.Spread = bench.Value(c.Quantity(), sys, st.Mean), spreadText(c.Quantity(), sys, st.Spread)
			row.Steady, row.Why = st.Steady, st.Why
		}
		v.Readings = append(v.Readings, row)
	}
}

// spreadText writes a standard deviation.
func spreadText(q units.Quantity, sys units.System, std float64) string {
	if q == units.Temperature {
		q = units.TemperatureDifference
	}
	return bench.Value(q, sys, std)
}

func (v *benchTestView) steps(look *bench.View, rec *bench.Record, sys units.System) {
	for i, line := range look.Steps {
		st := benchStep{Name: benchStepName(&rec.Plan.Steps[i], sys), State: "to come", Now: line.Now}
		switch {
		case line.Now:
			st.State = "now"
		case line.Done:
			st.State = "done"
		case line.Skipped:
			st.State, st.Why = "left out", line.Why
		}
		v.Steps = append(v.Steps, st)
	}
}

// pointReadings are a point's means with what is known of their errors.
func pointReadings(rec *bench.Record, p *bench.Point, sys units.System) (out []benchPointReading) {
	for _, m := range p.Readings {
		c, ok := frame.ByName(m.Channel)
		if !ok {
			continue
		}
		q := c.Quantity()
		row := benchPointReading{
			Label: c.Label(), Mean: bench.Value(q, sys, m.Mean), Spread: spreadText(q, sys, m.Spread),
			Worth: strconv.Itoa(m.N) + " / " + strconv.FormatFloat(m.Effective, 'f', 0, 64), Known: "no instrument is stated",
		}
		if value, u, k, ok := rec.Uncertain(p, c); ok {
			row.Known = bench.ValueU(q, sys, value, u) + ", k = " + strconv.FormatFloat(k, 'f', 2, 64)
		}
		out = append(out, row)
	}
	return out
}

// benchAct takes a press on the page of a test.
func (s *server) benchAct(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	said, err := s.benchDo(r, id)
	if err != nil {
		s.benchRefused(w, r, id, asSentence(err))
		return
	}
	to := benchPath(id) + "?said=" + said
	if r.PostFormValue("watch") != "" {
		to += "&watch=1"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// benchRefused shows the test's page with what went wrong.
func (s *server) benchRefused(w http.ResponseWriter, r *http.Request, id, text string) {
	if l, ok := s.opt.Bench.Look(s.prefsOf(r).Units); ok && l.Record.ID == id && l.Record.State == bench.Running {
		s.writeCode(w, r, http.StatusConflict, "benchtest.html", s.benchTestView(r, &l, text))
		return
	}
	rec, err := s.opt.Bench.Test(id)
	if err != nil {
		s.refusePage(w, r, http.StatusNotFound, text)
		return
	}
	s.writeCode(w, r, http.StatusConflict, "benchresults.html", s.benchResultsView(r, rec, text))
}

// benchDo does what a form asks for.
func (s *server) benchDo(r *http.Request, id string) (said string, err error) {
	switch act := r.PathValue("act"); act {
	case "resume":
		if err := s.opt.Bench.Resume(id); err != nil {
			return "", err
		}
		s.noteBench(r, "gone on with", id)
		return "resumed", nil
	case "baseline":
		if r.PostFormValue("word") == "" {
			return "", errors.New("nothing is written without your word: tick that this test is to be the baseline")
		}
		if err := s.opt.Bench.WriteBaseline(id); err != nil {
			return "", err
		}
		s.noteBench(r, "written into the config as the baseline", id)
		return act, nil
	default:
		step, said, err := s.benchStepAct(r, act)
		if err != nil {
			return "", err
		}
		mark := r.PostFormValue("mark")
		err = s.opt.Bench.Do(id, func(t *bench.Session, now time.Time) error {
			if mark != benchMark(t.Record()) {
				return errBenchMoved
			}
			return step(t, now)
		})
		if err == nil && act == "abort" {
			s.noteBench(r, "ended: "+cleanNote(r.PostFormValue("why")), id)
		}
		return said, err
	}
}

// benchStepAct is what a press does to the test under way.
func (s *server) benchStepAct(r *http.Request, act string) (do func(t *bench.Session, now time.Time) error, said string, err error) {
	why := cleanNote(r.PostFormValue("why"))
	switch act {
	case "ready":
		return func(t *bench.Session, _ time.Time) error { return t.Ready() }, "ready", nil
	case "take":
		return func(t *bench.Session, _ time.Time) error { return t.Take() }, "taken", nil
	case "skip":
		return func(t *bench.Session, now time.Time) error { return t.Skip(why, now) }, "skipped", nil
	case "back":
		return func(t *bench.Session, _ time.Time) error { return t.Back() }, "back", nil
	case "abort":
		if why == "" {
			return nil, "", errors.New("ending a test early needs a reason")
		}
		return func(t *bench.Session, now time.Time) error { t.Abort(why, now); return nil }, "aborted", nil
	case "enter":
		sys, value, off := s.prefsOf(r).Units, r.PostFormValue("value"), r.PostFormValue("off")
		return func(t *bench.Session, now time.Time) error {
			q := t.View(sys).Quantity
			v, err := parseIn(q, sys, value)
			if err != nil {
				return err
			}
			half, err := parseIn(q, sys, off)
			if err != nil {
				return err
			}
			return t.Enter(v, half, now)
		}, "entered", nil
	}
	return nil, "", errNoStep
}
