package dashboard

import (
	"net/http"
	"time"

	"headroom/daemon/bench"
)

// benchJSON lists the tests, the newest first, and the one under way.
func (s *server) benchJSON(w http.ResponseWriter, r *http.Request) {
	all, bad := s.opt.Bench.Tests()
	now, halted := s.benchNow(r)
	tests := []object{}
	for i := len(all) - 1; i >= 0; i-- {
		o := benchObject(all[i])
		if all[i].State != bench.Running {
			got := s.verdicts.of(all[i])
			o["verdict"], o["why"] = string(got.verdict), got.why
		}
		tests = append(tests, o)
	}
	o := object{"version": 1, "tests": tests, "unreadable": len(bad), "under_way": nil, "waits_for_go_on": halted}
	if now != nil {
		o["under_way"] = now.ID
	}
	s.writeJSON(w, http.StatusOK, o)
}

func benchObject(r *bench.Record) object {
	o := object{
		"id": r.ID, "pump": pumpName(&r.Pump), "who": r.Who, "source": r.Source, "practice": r.Practice(), "state": string(r.State), "whole": r.Whole(),
		"began": r.Began.UTC().Format(time.RFC3339), "ended": nil, "verdict": nil, "why": "", "hash": r.Hash(),
	}
	if !r.Ended.IsZero() {
		o["ended"] = r.Ended.UTC().Format(time.RFC3339)
	}
	return o
}

// benchTestJSON is one test with its figures, in SI.
func (s *server) benchTestJSON(w http.ResponseWriter, r *http.Request) {
	rec, ok := s.benchTest(w, r)
	if !ok {
		return
	}
	o, checks := benchObject(rec), rec.Checks()
	verdict, why := rec.Stated(checks)
	o["version"], o["verdict"], o["why"] = 1, string(verdict), why
	figures, limits, missing := []object{}, []object{}, []string{}
	for _, res := range rec.Results() {
		figures = append(figures, object{
			"figure": res.Figure.String(), "label": res.Figure.Label(), "value": number(res.Value, res.OK), "expanded": number(res.U, res.OK),
			"factor": number(res.K, res.OK), "level": bench.Level, "doubt": res.Doubt, "why": res.Why,
		})
	}
	for _, c := range checks {
		l := object{"figure": c.Limit.Figure.String(), "min": nil, "max": nil, "guard": number(c.Guard, c.Guard > 0), "verdict": string(c.Verdict), "why": c.Why, "source": c.Limit.Source}
		if c.Limit.Min != nil {
			l["min"] = *c.Limit.Min
		}
		if c.Limit.Max != nil {
			l["max"] = *c.Limit.Max
		}
		limits = append(limits, l)
	}
	for _, st := range rec.Missing() {
		missing = append(missing, st.ID)
	}
	o["figures"], o["limits"], o["missing"] = figures, limits, missing
	s.writeJSON(w, http.StatusOK, o)
}
