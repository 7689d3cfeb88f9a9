package dashboard

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strings"
	"time"

	"headroom/daemon/bench"
	"headroom/daemon/bench/cert"
	"headroom/rules/units"
)

// Bench keeps the tests of pumps and leads through one at a time, fed by the
// running program. Errors are for people. It never waits for a sensor.
type Bench interface {
	// Source says where readings come from.
	Source() string
	// Library returns the pumps, instruments and limits, and their text;
	// SetLibrary puts a changed text in use, or says what is wrong with it.
	Library() (l *bench.Library, text string, err error)
	SetLibrary(text string) error
	// Begin begins a test of a pump by a plan: Setup's Pump, Plan, Who and Where
	// count. Resume goes on with one that was interrupted, at a person's word; one
	// that the program took up by itself waits for it.
	Begin(s bench.Setup) (id string, err error)
	Resume(id string) error
	// Do acts on the test under way and keeps the outcome. An error of act
	// leaves the test as it was.
	Do(id string, act func(s *bench.Session, now time.Time) error) error
	// Look returns the test under way, or the one that ended last; ok is false
	// where there was none since the program's start.
	Look(sys units.System) (l BenchLook, ok bool)
	// Tests returns every test that can be read, the oldest first, and an error
	// for each that can't; Test returns one.
	Tests() ([]*bench.Record, []error)
	Test(id string) (*bench.Record, error)
	// ConfigFile may take a baseline; empty for none. WriteBaseline puts a
	// test's points into it, for the program's next start.
	ConfigFile() string
	WriteBaseline(id string) error
}

// BenchLook is a test at one moment.
type BenchLook struct {
	View bench.View
	// Standings are the channels in the window that is being collected.
	Standings []bench.Standing
	Record    *bench.Record
	// Unkept is why its newest state isn't on the medium; nil when it is.
	Unkept error
}

// placeBench is the list of tests.
const placeBench = "/bench"

// benchRoutes are the pages of the bench and what programs read of it.
func (s *server) benchRoutes(mux *http.ServeMux) {
	if s.opt.Bench == nil {
		return
	}
	mux.HandleFunc("GET "+placeBench, s.benchPage)
	mux.HandleFunc("GET /bench/new", s.benchNewPage)
	mux.HandleFunc("POST /bench/new", s.benchBegin)
	mux.HandleFunc("GET /bench/library", s.benchLibraryPage)
	mux.HandleFunc("POST /bench/library", s.setBenchLibrary)
	mux.HandleFunc("POST /bench/pump", s.addBenchPump)
	mux.HandleFunc("GET /bench/compare", s.benchComparePage)
	mux.HandleFunc("GET /bench/trend", s.benchTrendPage)
	mux.HandleFunc("GET /bench/{id}", s.benchTestPage)
	mux.HandleFunc("GET /bench/{id}/results", s.benchResultsPage)
	mux.HandleFunc("GET /bench/{id}/certificate", s.benchCertificate)
	mux.HandleFunc("POST /bench/{id}/{act}", s.benchAct)
	mux.HandleFunc("GET /api/v1/bench", s.benchJSON)
	mux.HandleFunc("GET /api/v1/bench/{id}", s.benchTestJSON)
}

// benchSaid are the answers after an act, by their names in the address.
var benchSaid = map[string]string{
	"begun":    "The test has begun.",
	"resumed":  "The test goes on where it was left.",
	"aborted":  "The test is ended. It is kept, and stays partial.",
	"taken":    "The point is taken as it was, and is marked so.",
	"entered":  "The value is written down.",
	"skipped":  "The step is left out, with the reason.",
	"back":     "One step back. The newest point of a step counts.",
	"ready":    "The readings are looked at now.",
	"library":  "The library is changed. Tests that have begun keep theirs.",
	"pump":     "The pump is in the library.",
	"baseline": "The config holds the baseline of this test. It is in force from the next start of the program.",
}

// benchPath is the address of a test.
func benchPath(id string) string { return placeBench + "/" + url.PathEscape(id) }

// benchTest finds the test that an address names: the one under way as it is
// now, every other as it is kept. It answers itself where there is none.
func (s *server) benchTest(w http.ResponseWriter, r *http.Request) (rec *bench.Record, ok bool) {
	id := r.PathValue("id")
	if l, ok := s.opt.Bench.Look(s.prefsOf(r).Units); ok && l.Record.ID == id {
		return l.Record, true
	}
	rec, err := s.opt.Bench.Test(id)
	if err != nil {
		s.refuseRun(w, r, http.StatusNotFound, "There is no such test that can be read: "+asSentence(err))
		return nil, false
	}
	return rec, true
}

// benchMark names the moment of a test, so that a press meant for one step is
// never taken for the next.
func benchMark(r *bench.Record) string {
	return fmt.Sprintf("%d.%d.%d.%d.%d", r.Next, len(r.Points), len(r.Entries), len(r.Skipped), len(r.Breaks))
}

var errBenchMoved = errors.New("the test has moved on meanwhile: look at the step that is under way now")

// pumpName is a pump with its serial number.
func pumpName(p *bench.Pump) string {
	if p.Serial == "" {
		return p.Name
	}
	return p.Name + ", no. " + p.Serial
}

// benchState says in words how far a test has come; halted is set for one that
// is under way and waits for a person's word.
func benchState(r *bench.Record, underWay, halted bool) string {
	switch {
	case halted:
		return "cut off, waits for your word to go on"
	case underWay:
		return "under way"
	case r.State == bench.Running:
		return "interrupted, can be gone on with"
	case r.Whole():
		return "whole"
	case r.State == bench.Aborted:
		return "PARTIAL, aborted"
	}
	return "PARTIAL"
}

// verdictLook is a verdict's tone on a page.
func verdictLook(v bench.Verdict) string {
	switch v {
	case bench.Pass:
		return "normal"
	case bench.Fail:
		return "warning"
	}
	return "unknown"
}

// benchStepName is a step in words.
func benchStepName(st *bench.Step, sys units.System) string {
	name := capital(strings.ReplaceAll(st.ID, "_", " "))
	if st.TargetHz > 0 {
		name += ": " + bench.Value(units.Speed, sys, st.TargetHz)
	} else if st.TargetPa > 0 {
		name += ": " + bench.Value(units.Pressure, sys, st.TargetPa)
	}
	return name
}

// benchCertificate is the printable certificate, as the command writes it.
func (s *server) benchCertificate(w http.ResponseWriter, r *http.Request) {
	rec, ok := s.benchTest(w, r)
	if !ok {
		return
	}
	opt := cert.Options{Units: s.prefsOf(r).Units, Version: s.opt.Version}
	if before := r.FormValue("before"); before != "" {
		var err error
		if opt.Before, err = s.opt.Bench.Test(before); err != nil {
			s.refusePage(w, r, http.StatusNotFound, "The test before can't be read: "+asSentence(err))
			return
		}
	}
	var b strings.Builder
	if err := cert.Write(&b, rec, opt); err != nil {
		s.refusePage(w, r, http.StatusConflict, "There is no certificate: "+asSentence(err))
		return
	}
	w.Header().Set("Content-Security-Policy", reportPolicy)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	writePacked(w, r, http.StatusOK, []byte(b.String()))
}

// benchPlots are the curves of a test.
func benchPlots(r *bench.Record, sys units.System) []template.HTML { return cert.Plots(r, sys) }

// capital begins a text with a capital letter; there may be none.
func capital(text string) string {
	if text == "" {
		return ""
	}
	return sentence(text)
}
