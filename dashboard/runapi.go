package dashboard

import (
	"bytes"
	"net/http"
	"strconv"

	"headroom/daemon/store"
	"headroom/rules/frame"
	"headroom/rules/units"
)

const (
	// fewBuckets and mostBuckets of a series: a phone's width, and more than any
	// screen's.
	fewBuckets, mostBuckets = 300, 2000
	// mostRuns in one answer.
	mostRuns = 500
)

func runObject(run *store.Run) object {
	o := object{
		"run": run.ID.String(), "kind": kindOf(run), "boot": run.ID.Boot, "start_s": run.Start.Seconds(), "end_s": run.End.Seconds(),
		"ended": run.Ended, "start_wall": nil, "software": run.Software, "config": run.Config, "machine": run.Machine,
		"readings": string(run.Source.Readings), "imported_from": run.Source.Name, "alarms": run.Raised, "incidents": run.Incidents, "first_out": run.FirstOut,
		"water_m3": number(run.Summary.Sums.WaterM3, run.Summary.Sums.MeasuredWater()), "energy_j": run.Summary.Sums.EnergyJ, "starts": run.Summary.Sums.Starts,
	}
	if !run.StartWall.IsZero() {
		o["start_wall"] = run.StartWall.UTC()
	}
	return o
}

// kindOf tells runs from what happened in a boot outside of its runs.
func kindOf(run *store.Run) string {
	if run.ID.N == 0 {
		return "outside_runs"
	}
	return "run"
}

// runsJSON lists runs, newest first, and boots with incidents outside of their
// runs.
func (s *server) runsJSON(w http.ResponseWriter, r *http.Request) {
	limit := 50
	if text := r.FormValue("limit"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 || n > mostRuns {
			s.writeJSON(w, http.StatusBadRequest, object{"error": "limit must be a number from 1 to " + strconv.Itoa(mostRuns)})
			return
		}
		limit = n
	}
	rec, leave, no := s.record(r)
	if no != nil {
		s.refuseRun(w, r, no.code, no.text)
		return
	}
	defer leave()
	runs, err := rec.ListEntries(r.Context(), limit)
	if err != nil {
		s.cannotRead(w, r, err)
		return
	}
	out := []object{}
	for i := range runs {
		out = append(out, runObject(&runs[i]))
	}
	s.writeJSON(w, http.StatusOK, object{"version": 1, "runs": out})
}

// runJSON is one run with its account, the same as the command review -json.
func (s *server) runJSON(w http.ResponseWriter, r *http.Request, a asked) {
	look, err := s.looks.look(r.Context(), a.rec, a.run)
	var b bytes.Buffer
	if err == nil {
		err = look.Account.WriteJSON(&b, s.prefsOf(r).Units)
	}
	if err != nil {
		s.cannotRead(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	writePacked(w, r, http.StatusOK, b.Bytes())
}

// seriesJSON gives the least and the most of every channel in equal spans of
// time, in the units that the reader has chosen: what a chart needs.
func (s *server) seriesJSON(w http.ResponseWriter, r *http.Request, a asked) {
	n := fewBuckets
	if text := r.FormValue("n"); text != "" {
		var err error
		if n, err = strconv.Atoi(text); err != nil || n < 1 || n > mostBuckets {
			s.writeJSON(w, http.StatusBadRequest, object{"error": "n must be a number from 1 to " + strconv.Itoa(mostBuckets)})
			return
		}
	}
	look, err := s.looks.look(r.Context(), a.rec, a.run)
	if err != nil {
		s.cannotRead(w, r, err)
		return
	}
	h, sys := &look.Account.Head, s.prefsOf(r).Units
	part := spanOf(r.URL.Query(), h)
	channels := []object{}
	for ch := range frame.NumChannels {
		buckets, err := a.rec.Buckets(r.Context(), store.RunID{Boot: a.run.ID.Boot}, ch, max(part.from, 1), part.to, n)
		if err != nil {
			s.cannotRead(w, r, err)
			return
		}
		u := units.For(ch.Quantity(), sys)
		if least, most, any := series(buckets, u); any {
			channels = append(channels, object{"channel": ch.String(), "label": ch.Label(), "unit": u.Symbol, "decimals": u.Decimals, "switch": ch.Digital(), "min": least, "max": most})
		}
	}
	s.writeJSON(w, http.StatusOK, object{
		"version": 1, "run": a.run.ID.String(), "from_s": (part.from - h.Start).Seconds(), "to_s": (part.to - h.Start).Seconds(),
		"buckets": n, "channels": channels,
	})
}

// series puts buckets into numbers, null where no reading could be used; any is
// false where the channel was never read.
func series(buckets []store.Bucket, u units.Unit) (least, most []any, any bool) {
	for i := range buckets {
		b := &buckets[i]
		any = any || b.OK > 0
		if b.OK == 0 {
			least, most = append(least, nil), append(most, nil)
			continue
		}
		least, most = append(least, u.FromSI(b.Min)), append(most, u.FromSI(b.Max))
	}
	return least, most, any
}
