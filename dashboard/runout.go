package dashboard

import (
	"bytes"
	"errors"
	"net/http"
	"strings"
	"time"

	"headroom/daemon/exported"
	"headroom/daemon/report"
	"headroom/daemon/store"
)

// reportPolicy allows the style that a report carries inside, and nothing else:
// no script at all.
const reportPolicy = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// exportWithin is how long a reader may take for a piece of an export.
const exportWithin = 30 * time.Second

// runReport is the printable report, as the command report writes it.
func (s *server) runReport(w http.ResponseWriter, r *http.Request, a asked) {
	p, err := report.Make(r.Context(), a.rec, a.run.ID, report.Options{Units: s.prefsOf(r).Units, Zone: time.Local, Software: s.opt.Version})
	var b bytes.Buffer
	if err == nil {
		err = p.WriteHTML(&b)
	}
	if err != nil {
		s.cannotRead(w, r, err)
		return
	}
	w.Header().Set("Content-Security-Policy", reportPolicy)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	writePacked(w, r, http.StatusOK, b.Bytes())
}

// runExport streams a run as a file that replays.
func (s *server) runExport(w http.ResponseWriter, r *http.Request, a asked) {
	format, err := exported.ParseFormat(strings.ToLower(r.FormValue("format")))
	if err != nil {
		s.refuseRun(w, r, http.StatusBadRequest, asSentence(err))
		return
	}
	kind := "text/csv; charset=utf-8"
	if format == exported.Parquet {
		kind = "application/vnd.apache.parquet"
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", `attachment; filename="headroom-run-`+a.run.ID.String()+"."+string(format)+`"`)
	out := &pacedWriter{w: w, ctl: http.NewResponseController(w)}
	if _, err := exported.Write(r.Context(), out, a.rec, exported.What{Run: a.run.ID}, format); err != nil {
		if !out.begun {
			w.Header().Del("Content-Disposition")
			s.cannotRead(w, r, err)
			return
		}
		s.log.Warn("an export was not finished", "run", a.run.ID, "err", err)
		// A file that ends early must not look whole to the reader.
		panic(http.ErrAbortHandler)
	}
}

// pacedWriter gives the reader a new patience with each piece.
type pacedWriter struct {
	w     http.ResponseWriter
	ctl   *http.ResponseController
	begun bool
}

func (p *pacedWriter) Write(b []byte) (int, error) {
	p.begun = true
	if err := p.ctl.SetWriteDeadline(time.Now().Add(exportWithin)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return 0, err
	}
	return p.w.Write(b)
}

// chainWords says where a run stands in the record's chain.
func chainWords(r *http.Request, a asked) string {
	c, err := a.rec.Chain(r.Context(), a.run.ID)
	switch {
	case errors.Is(err, store.ErrNoChain):
		return "Nothing of this run is sealed into the record's chain yet."
	case err != nil:
		return "The record's chain can't be read: " + asSentence(err)
	case !c.Whole:
		return "Head " + c.Head.String() + ". A part of the run is not sealed yet, and the head doesn't vouch for it."
	}
	return "Head " + c.Head.String() + ". Keep it elsewhere, and the command record verify shows later whether anything before it was changed."
}
