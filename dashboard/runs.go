package dashboard

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"

	"headroom/daemon/exported"
	"headroom/daemon/report"
	"headroom/daemon/store"
	"headroom/daemon/whatif"
	"headroom/rules/engine"
	"headroom/rules/words"
)

// Recorded is the record as the pages of runs read it; *store.Store is the one
// in use.
type Recorded interface {
	report.Record
	whatif.Record
	exported.Record
	ListEntries(ctx context.Context, limit int) ([]store.Run, error)
	ActsSince(ctx context.Context, boot uint64) ([]store.Act, error)
}

// placeRuns is the list of runs.
const placeRuns = "/runs"

// noteAbout is what a note on a run is called in the record. Its text begins
// with the run, since it stands in the boot in which it was written.
const noteAbout = "run_note"

// The patience with questions to the record. No question ever holds up the
// recording; these keep a crowd of readers from eating the board.
const (
	maxLooks = 2
	// maxExports go on beside them: one lasts as long as its reader is slow.
	maxExports = 2
	lookWithin = 15 * time.Second
	keptLooks  = 4
	// openFor is how long the account of a run that still goes on is used.
	openFor = 5 * time.Second
)

// looks keeps the accounts that were made last: the next zoom wants the same.
type looks struct {
	turn, exports chan struct{}

	mu   sync.Mutex
	kept []keptLook
}

type keptLook struct {
	id   store.RunID
	end  time.Duration
	made time.Time
	look *report.Look
}

func newLooks() *looks {
	return &looks{turn: make(chan struct{}, maxLooks), exports: make(chan struct{}, maxExports)}
}

// errBusy is what a reader gets who comes when too many ask.
var errBusy = errors.New("others are reading the record just now; try again in a moment")

// enter takes a turn at the record; leave gives it back.
func (l *looks) enter(ctx context.Context) (leave func(), err error) { return enter(ctx, l.turn) }

// enterExport is the same for an export.
func (l *looks) enterExport(ctx context.Context) (leave func(), err error) {
	return enter(ctx, l.exports)
}

func enter(ctx context.Context, turn chan struct{}) (leave func(), err error) {
	late := time.NewTimer(lookWithin)
	defer late.Stop()
	select {
	case turn <- struct{}{}:
		return func() { <-turn }, nil
	case <-late.C:
		return nil, errBusy
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// look is the account of a run, as it was or made now.
func (l *looks) look(ctx context.Context, rec Recorded, run store.Run) (*report.Look, error) {
	l.mu.Lock()
	for _, k := range l.kept {
		if k.id == run.ID && (k.end == run.End && run.Ended != "" || time.Since(k.made) < openFor) {
			l.mu.Unlock()
			return k.look, nil
		}
	}
	l.mu.Unlock()
	made, err := report.NewLook(ctx, rec, run.ID)
	if err != nil {
		return nil, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.kept = append(l.kept, keptLook{run.ID, run.End, time.Now(), made})
	if n := len(l.kept) - keptLooks; n > 0 {
		l.kept = append(l.kept[:0:0], l.kept[n:]...)
	}
	return made, nil
}

// runRoutes are the pages of the morning after and what programs read of them.
func (s *server) runRoutes(mux *http.ServeMux) {
	if s.opt.Record == nil {
		return
	}
	mux.HandleFunc("GET "+placeRuns, s.runsPage)
	mux.HandleFunc("GET /runs/compare", s.comparePage)
	mux.HandleFunc("GET /runs/{run}", s.withRun(s.runPage))
	mux.HandleFunc("GET /runs/{run}/report", s.withRun(s.runReport))
	mux.HandleFunc("GET /runs/{run}/export", s.inTurn(s.looks.enterExport, s.runExport))
	mux.HandleFunc("GET /runs/{run}/whatif", s.withRun(s.whatIfPage))
	if s.opt.Note != nil {
		mux.HandleFunc("POST /runs/{run}/note", s.withRun(s.runNote))
	}
	mux.HandleFunc("GET /api/v1/runs", s.runsJSON)
	mux.HandleFunc("GET /api/v1/runs/{run}", s.withRun(s.runJSON))
	mux.HandleFunc("GET /api/v1/runs/{run}/series", s.withRun(s.seriesJSON))
}

// asked is one question about one run.
type asked struct {
	rec Recorded
	run store.Run
}

// withRun finds the run that an address names and takes a turn at the record.
func (s *server) withRun(answer func(http.ResponseWriter, *http.Request, asked)) http.HandlerFunc {
	return s.inTurn(s.looks.enter, answer)
}

// entrance is where a question waits for its turn.
type entrance func(context.Context) (leave func(), err error)

func (s *server) inTurn(enter entrance, answer func(http.ResponseWriter, *http.Request, asked)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		id, err := store.ParseRunID(r.PathValue("run"))
		if err != nil {
			s.refuseRun(w, r, http.StatusNotFound, "There is no run "+strconv.Quote(r.PathValue("run"))+"; a run is written as 12.3.")
			return
		}
		rec, leave, no := s.recordIn(r, enter)
		if no != nil {
			s.refuseRun(w, r, no.code, no.text)
			return
		}
		defer leave()
		run, err := rec.Run(r.Context(), id)
		if errors.Is(err, store.ErrNoRun) {
			s.refuseRun(w, r, http.StatusNotFound, noRun(id))
			return
		}
		if err != nil {
			s.cannotRead(w, r, err)
			return
		}
		answer(w, r, asked{rec, run})
	}
}

// noRun says that there is nothing to show.
func noRun(id store.RunID) string {
	if id.N == 0 {
		return "The record holds no alarm of weight of " + id.Words() + " outside of its runs; a run is written as 12.3."
	}
	return "The record holds no " + id.Words() + "."
}

// record gives the record for one question; leave must be called after it.
func (s *server) record(r *http.Request) (rec Recorded, leave func(), no *refusal) {
	return s.recordIn(r, s.looks.enter)
}

func (s *server) recordIn(r *http.Request, enter entrance) (rec Recorded, leave func(), no *refusal) {
	if rec = s.opt.Record(); rec == nil {
		return nil, nil, refuse(http.StatusServiceUnavailable, "The record can't be read now; the list of alarms says why.")
	}
	leave, err := enter(r.Context())
	if err != nil {
		return nil, nil, refuse(http.StatusServiceUnavailable, "%s", asSentence(err))
	}
	return rec, leave, nil
}

func (s *server) refuseRun(w http.ResponseWriter, r *http.Request, code int, text string) {
	if wantsJSON(r) {
		s.writeJSON(w, code, object{"error": text})
		return
	}
	s.refusePage(w, r, code, text)
}

// cannotRead tells of a fault of the record.
func (s *server) cannotRead(w http.ResponseWriter, r *http.Request, err error) {
	if r.Context().Err() != nil {
		return // the reader has left
	}
	s.log.Error("cannot read the record for a page", "path", r.URL.Path, "err", err)
	s.refuseRun(w, r, http.StatusInternalServerError, "This part of the record can't be read: "+asSentence(err))
}

// alarmTitle is a recorded alarm's name in words.
func alarmTitle(name string) string {
	if id, ok := engine.AlarmByName(name); ok {
		return words.Alarm(id).Title
	}
	return name
}

// notesAbout are the notes that people wrote about a run.
func notesAbout(acts []store.Act, id store.RunID) (out []store.Act) {
	begin := aboutRun(id)
	for _, a := range acts {
		if text, ok := strings.CutPrefix(a.Text, begin); ok && a.What == noteAbout {
			a.Text = text
			out = append(out, a)
		}
	}
	return out
}

func aboutRun(id store.RunID) string { return sentence(id.Words()) + ": " }

// runPath is the address of a run's page, with wishes such as from=1.
func runPath(id store.RunID, wishes url.Values) string {
	p := placeRuns + "/" + id.String()
	if len(wishes) > 0 {
		p += "?" + wishes.Encode()
	}
	return p
}
