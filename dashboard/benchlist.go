package dashboard

import (
	"net/http"
	"sync"

	"headroom/daemon/bench"
)

// benchView is the list of tests.
type benchView struct {
	chrome
	// Now is the test under way; empty without one. Halted has it wait for a
	// person's word.
	Now, NowHref string
	Halted       bool
	Rows         []benchRow
	// Bad are the tests that can't be read.
	Bad       []string
	BenchFrom string
}

// benchRow is one test in a list.
type benchRow struct {
	ID, Href, Name, Began, Who, State string
	Verdict, Tone, Why                string
	Partial, Practice                 bool
}

// benchVerdicts remembers what was worked out of tests that have ended: a list
// of many would take seconds on a small board.
type benchVerdicts struct {
	mu   sync.Mutex
	kept map[string]benchVerdict
}

type benchVerdict struct {
	verdict bench.Verdict
	why     string
}

// mostVerdicts bounds what is remembered.
const mostVerdicts = 1000

func (c *benchVerdicts) of(r *bench.Record) benchVerdict {
	key := r.ID + r.Hash()
	c.mu.Lock()
	v, ok := c.kept[key]
	c.mu.Unlock()
	if ok {
		return v
	}
	v.verdict, v.why = r.Stated(r.Checks())
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.kept == nil || len(c.kept) >= mostVerdicts {
		c.kept = map[string]benchVerdict{}
	}
	c.kept[key] = v
	return v
}

func (s *server) benchPage(w http.ResponseWriter, r *http.Request) {
	v := &benchView{chrome: s.chrome(r, "Bench", placeBench), BenchFrom: s.opt.Bench.Source()}
	v.Said = saidOf(r, benchSaid)
	now, halted := s.benchNow(r)
	if now != nil {
		v.Halted, v.Now, v.NowHref = halted, pumpName(&now.Pump), benchPath(now.ID)
	}
	all, bad := s.opt.Bench.Tests()
	for _, err := range bad {
		v.Bad = append(v.Bad, asSentence(err))
	}
	for i := len(all) - 1; i >= 0; i-- {
		v.Rows = append(v.Rows, s.benchRowOf(all[i], now, halted))
	}
	s.write(w, r, "bench.html", v)
}

// benchNow is the test under way, nil without one; halted is true where it was
// cut off and waits for a person's word.
func (s *server) benchNow(r *http.Request) (rec *bench.Record, halted bool) {
	if l, ok := s.opt.Bench.Look(s.prefsOf(r).Units); ok && l.Record.State == bench.Running {
		return l.Record, l.View.Halted
	}
	return nil, false
}

func (s *server) benchRowOf(r, now *bench.Record, halted bool) benchRow {
	underWay := now != nil && now.ID == r.ID
	row := benchRow{
		ID: r.ID, Href: benchPath(r.ID), Name: pumpName(&r.Pump), Began: began(r.Began), Who: r.Who,
		State: benchState(r, underWay, underWay && halted), Partial: !r.Whole(), Practice: r.Practice(),
	}
	if r.State != bench.Running {
		got := s.verdicts.of(r)
		row.Verdict, row.Tone, row.Why = capital(string(got.verdict)), verdictLook(got.verdict), got.why
	}
	return row
}
