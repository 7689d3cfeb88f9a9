package dashboard

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"headroom/rules/alarm"
	"headroom/rules/engine"
)

// ActRequest is what a person wants to do to an alarm.
type ActRequest struct {
	Alarm engine.AlarmID
	Act   alarm.Act
	// Shelf is how long for alarm.Shelve, above 0 and at most alarm.MaxShelf;
	// 0 for every other act.
	Shelf time.Duration
	// Who is the name that the person gave, never empty. It is for the record
	// and no proof.
	Who string
}

// ErrNotNow is what Options.Acts returns, wrapped or not, for an act that means
// nothing in the alarm's present phase: engine.Do said no.
var ErrNotNow = errors.New("not possible in the alarm's present phase")

// ErrNotRecorded is what Options.Acts returns, wrapped, beside what was done,
// where that is not safe in the record: whoever asked is told so.
var ErrNotRecorded = errors.New("done, but not recorded")

const (
	// allAlarms stands in an address for every alarm that calls.
	allAlarms = "all"
	// seenWithin is how long an answer waits until the act can be seen in a
	// snapshot, so that a page without a script shows what was just done.
	seenWithin = 700 * time.Millisecond
)

// refusal is why an act was not done, as a person may read it.
type refusal struct {
	code int
	text string
}

func refuse(code int, format string, args ...any) *refusal {
	return &refusal{code, fmt.Sprintf(format, args...)}
}

// actForm takes an act from the page: a form without a script comes back to the
// page, a script asks for JSON. Taking an alarm out of service is not offered
// where a wet thumb may slip.
func (s *server) actForm(w http.ResponseWriter, r *http.Request) {
	var d deeds
	no := refuse(http.StatusForbidden, "Cannot take an alarm out of service from this page.")
	if r.PathValue("act") != alarm.TakeOut.String() {
		d, no = s.act(r)
	}
	switch {
	case strings.Contains(r.Header.Get("Accept"), "application/json"):
		s.answerAct(w, d, no)
	case no != nil:
		s.refusePage(w, r, no.code, no.text)
	case d.unrecorded != nil:
		s.writeCode(w, r, http.StatusOK, "unrecorded.html", &refusedView{chrome: s.chrome(r, "Done, but not recorded", placeLive), Text: doneText(d.dids) + " " + d.doubt()})
	default:
		http.Redirect(w, r, "/#h-alarms", http.StatusSeeOther)
	}
}

// actJSON takes an act from a program. The fields "shelf" (15m, 1h, shift) and
// "who" come as a form or in the address.
func (s *server) actJSON(w http.ResponseWriter, r *http.Request) {
	d, no := s.act(r)
	s.answerAct(w, d, no)
}

// deeds is what a request came to.
type deeds struct {
	dids []engine.Did
	// unrecorded is why not all of it is safe in the record, nil where it is.
	unrecorded error
}

// add takes one act's outcome; an error that means that it was done is a doubt
// and no failure.
func (d *deeds) add(did engine.Did, err error) error {
	if err != nil && !errors.Is(err, ErrNotRecorded) {
		return err
	}
	d.dids = append(d.dids, did)
	d.unrecorded = errors.Join(d.unrecorded, err)
	return nil
}

// doubt says in words that it is done and not safe.
func (d *deeds) doubt() string {
	if d.unrecorded == nil {
		return ""
	}
	why, _, _ := strings.Cut(d.unrecorded.Error(), "\n") // of several the first tells enough
	return "It is " + why + ". After a power cut nobody would know of it."
}

func (s *server) answerAct(w http.ResponseWriter, d deeds, no *refusal) {
	if no != nil {
		s.writeJSON(w, no.code, object{"error": no.text})
		return
	}
	out := []object{}
	for i := range d.dids {
		out = append(out, didObject(&d.dids[i]))
	}
	text := strings.TrimSpace(doneText(d.dids) + " " + d.doubt())
	s.writeJSON(w, http.StatusOK, object{"version": 1, "done": out, "text": text, "recorded": d.unrecorded == nil})
}

// act does what a request asks for.
func (s *server) act(r *http.Request) (d deeds, no *refusal) {
	if s.opt.Acts == nil {
		return d, refuse(http.StatusForbidden, "This page is read only: nothing can be done to alarms from here.")
	}
	a, ok := alarm.ActByName(r.PathValue("act"))
	if !ok {
		return d, refuse(http.StatusNotFound, "There is no act %q; there are %s.", r.PathValue("act"), actNames())
	}
	req := ActRequest{Act: a, Who: s.whoOf(r)}
	if a == alarm.Shelve {
		if req.Shelf, no = parseShelf(r.FormValue("shelf")); no != nil {
			return d, no
		}
	}
	if r.PathValue("name") == allAlarms {
		return s.actAll(r, req)
	}
	id, ok := engine.AlarmByName(r.PathValue("name"))
	if !ok {
		return d, refuse(http.StatusNotFound, "There is no alarm %q.", r.PathValue("name"))
	}
	req.Alarm = id
	if err := d.add(s.opt.Acts(r.Context(), req)); err != nil {
		return d, s.whyNot(req, err)
	}
	s.untilSeen(r, d.dids[0])
	return d, nil
}

// actAll acknowledges the alarms that the form names, which are those that the
// person had on the screen, or without names all that call now. One that was
// acknowledged meanwhile is no failure.
func (s *server) actAll(r *http.Request, req ActRequest) (d deeds, no *refusal) {
	if req.Act != alarm.Acknowledge {
		return d, refuse(http.StatusBadRequest, "Only acknowledge can be done to all alarms at once.")
	}
	ids, no := s.namedOrCalling(r)
	if no != nil {
		return d, no
	}
	dids, errs := s.handOver(r.Context(), ids, req)
	for i, id := range ids {
		req.Alarm = id
		if err := d.add(dids[i], errs[i]); err != nil && !errors.Is(err, ErrNotNow) {
			return d, s.whyNot(req, err)
		}
	}
	if len(d.dids) == 0 {
		return d, refuse(http.StatusConflict, "Nothing is left to acknowledge.")
	}
	s.untilSeen(r, d.dids[len(d.dids)-1])
	return d, nil
}

// handOver does the same to several alarms at once: each act returns only when
// it is safe in the record, and on a slow medium one after the other would keep
// a person waiting for each of them.
func (s *server) handOver(ctx context.Context, ids []engine.AlarmID, req ActRequest) (dids []engine.Did, errs []error) {
	dids, errs = make([]engine.Did, len(ids)), make([]error, len(ids))
	var all sync.WaitGroup
	for i, id := range ids {
		one := req
		one.Alarm = id
		all.Go(func() { dids[i], errs[i] = s.opt.Acts(ctx, one) })
	}
	all.Wait()
	return dids, errs
}

// namedOrCalling returns each alarm once.
func (s *server) namedOrCalling(r *http.Request) (ids []engine.AlarmID, no *refusal) {
	for _, name := range r.Form["alarm"] {
		id, ok := engine.AlarmByName(name)
		if !ok {
			return nil, refuse(http.StatusNotFound, "There is no alarm %q.", name)
		}
		if !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	if snap := s.feed.Latest(); snap != nil && len(ids) == 0 {
		for i := range snap.Verdicts.Alarms {
			if calls(snap.Verdicts.Alarms[i].Phase) {
				ids = append(ids, engine.AlarmID(i))
			}
		}
	}
	return ids, nil
}

// whyNot puts a failed act in words. The reason is read from the newest
// snapshot, which may be a tick older than the engine's own.
func (s *server) whyNot(req ActRequest, err error) *refusal {
	if !errors.Is(err, ErrNotNow) {
		s.log.Error("cannot act on an alarm", "alarm", req.Alarm, "act", req.Act, "err", err)
		return refuse(http.StatusServiceUnavailable, "Cannot %s now: %v.", verb(req.Act, req.Alarm), err)
	}
	phase := alarm.Normal
	if snap := s.feed.Latest(); snap != nil && int(req.Alarm) < engine.NumAlarms {
		phase = snap.Verdicts.Alarms[req.Alarm].Phase
	}
	return refuse(http.StatusConflict, "Cannot %s now: %s.", verb(req.Act, req.Alarm), reasonAgainst(req.Act, phase))
}

// untilSeen waits until a snapshot shows what was done, but not for long.
func (s *server) untilSeen(r *http.Request, did engine.Did) {
	late := time.NewTimer(seenWithin)
	defer late.Stop()
	for {
		wake := s.feed.Changed()
		if snap := s.feed.Latest(); snap != nil && snap.Verdicts.Alarms[did.Alarm].Phase == did.Phase {
			return
		}
		select {
		case <-wake:
		case <-late.C:
			return
		case <-r.Context().Done():
			return
		}
	}
}

// untilShift is what the page calls the end of the shift. No program knows when
// that is, so it is the longest that an alarm may be shelved.
const untilShift = "shift"

func parseShelf(text string) (time.Duration, *refusal) {
	if text == untilShift {
		return alarm.MaxShelf, nil
	}
	d, err := time.ParseDuration(text)
	if err != nil || d <= 0 || d > alarm.MaxShelf {
		return 0, refuse(http.StatusBadRequest, "Cannot shelve for %q: say 15m, 1h or shift, at most %s.", text, lasting(alarm.MaxShelf.Seconds()))
	}
	return d, nil
}
