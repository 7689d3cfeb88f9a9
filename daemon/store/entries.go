package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"headroom/rules/engine"
)

// The time around a run that belongs to it, unless it is nearer to another run:
// what was done before the start, and the alarms that a start or a stop brings.
// Common practice, no source.
const LeadIn, LeadOut = 2 * time.Minute, 2 * time.Minute

// Around bounds what belongs to a run from start to end, in monotonic time of
// its boot, both ends inclusive. before is the end of the run before it and
// after the start of the one after it, 0 for none: the time between two runs
// is shared out in its middle, so that nothing belongs to both.
func Around(start, end, before, after time.Duration) (from, to time.Duration) {
	from, to = max(start-LeadIn, min(start, 1)), end+LeadOut
	if before > 0 {
		from = max(from, min(before+(start-before)/2+1, start))
	}
	if after > 0 {
		to = min(to, end+(after-end)/2)
	}
	return from, to
}

// stretch is a run's place in its boot, with what belongs to it.
type stretch struct {
	id                   RunID
	start, end, from, to time.Duration
}

// stretches returns those of a boot, in the order of time.
func (s *snapshot) stretches(ctx context.Context, boot uint64) ([]stretch, error) {
	all, err := s.stretchesBy(ctx, "SELECT boot, n, t0, t1, ended FROM run WHERE boot = ?", int64(boot))
	return all[boot], err
}

// allStretches returns those of every boot.
func (s *snapshot) allStretches(ctx context.Context) (map[uint64][]stretch, error) {
	return s.stretchesBy(ctx, "SELECT boot, n, t0, t1, ended FROM run")
}

func (s *snapshot) stretchesBy(ctx context.Context, ask string, args ...any) (map[uint64][]stretch, error) {
	rows, err := s.QueryContext(ctx, ask, args...)
	if err != nil {
		return nil, fmt.Errorf("cannot list the runs: %w", err)
	}
	defer rows.Close() // its error is that of rows.Err
	ends := map[RunID]runRow{}
	for rows.Next() {
		var boot int64
		var row runRow
		if err := rows.Scan(&boot, &row.N, (*int64)(&row.T0), (*int64)(&row.T1), &row.Ended); err != nil {
			return nil, fmt.Errorf("cannot list the runs: %w", err)
		}
		ends[RunID{uint64(boot), row.N}] = row
	}
	if s.live.state != nil {
		for _, row := range s.live.state.Runs {
			ends[RunID{s.live.boot, row.N}] = row // newer than the database
		}
	}
	return s.inOrder(ends), rows.Err()
}

// inOrder makes stretches of the runs of each boot.
func (s *snapshot) inOrder(ends map[RunID]runRow) map[uint64][]stretch {
	all := map[uint64][]stretch{}
	for id, row := range ends {
		if id.Boot == s.live.boot {
			row = s.goneOn(row)
		}
		all[id.Boot] = append(all[id.Boot], stretch{id: id, start: row.T0, end: row.T1})
	}
	for _, list := range all {
		slices.SortFunc(list, func(a, b stretch) int { return cmp.Compare(a.id.N, b.id.N) })
		for i := range list {
			var before, after time.Duration
			if i > 0 {
				before = list[i-1].end
			}
			if i+1 < len(list) {
				after = list[i+1].start
			}
			list[i].from, list[i].to = Around(list[i].start, list[i].end, before, after)
		}
	}
	return all
}

// inRun reports whether a time of the boot belongs to one of its runs.
func inRun(list []stretch, t time.Duration) bool {
	return slices.ContainsFunc(list, func(x stretch) bool { return t >= x.from && t <= x.to })
}

// outside returns the boots with incidents that belong to no run, as a motor
// that never began to turn, each with the time of its last one.
func (s *snapshot) outside(ctx context.Context, runs map[uint64][]stretch) (map[uint64]time.Duration, error) {
	out := map[uint64]time.Duration{}
	note := func(boot uint64, t time.Duration) {
		if last, has := out[boot]; !inRun(runs[boot], t) && (!has || t > last) {
			out[boot] = t
		}
	}
	rows, err := s.QueryContext(ctx, "SELECT boot, t FROM event WHERE incident <> 0")
	if err != nil {
		return nil, fmt.Errorf("cannot list the incidents: %w", err)
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		var boot, t int64
		if err := rows.Scan(&boot, &t); err != nil {
			return nil, fmt.Errorf("cannot list the incidents: %w", err)
		}
		note(uint64(boot), time.Duration(t))
	}
	for i := range s.live.events {
		if e := &s.live.events[i]; e.Incident() {
			note(s.live.boot, e.T)
		}
	}
	return out, rows.Err()
}

// ListEntries returns what somebody looks for who asks what happened: the runs,
// and where incidents belong to no run their boot as Run tells it, as number 0.
// Newest first, no more than limit; 0 for all.
func (v *view) ListEntries(ctx context.Context, limit int) ([]Run, error) {
	return v.list(ctx, limit, true)
}

func (v *view) list(ctx context.Context, limit int, boots bool) (out []Run, err error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer s.end()
	runs, err := s.allStretches(ctx)
	if err != nil {
		return nil, err
	}
	var all []stretch
	for _, list := range runs {
		all = append(all, list...)
	}
	if boots {
		outside, err := s.outside(ctx, runs)
		if err != nil {
			return nil, err
		}
		for boot, last := range outside {
			all = append(all, stretch{id: RunID{Boot: boot}, start: last})
		}
	}
	slices.SortFunc(all, func(a, b stretch) int {
		return cmp.Or(cmp.Compare(b.id.Boot, a.id.Boot), cmp.Compare(b.start, a.start), cmp.Compare(b.id.N, a.id.N))
	})
	if limit > 0 {
		all = all[:min(limit, len(all))]
	}
	for i := range all {
		r, err := s.describe(ctx, all[i].id, runs[all[i].id.Boot])
		if err != nil {
			return out, err
		}
		out = append(out, r)
	}
	return out, nil
}

// count fills in the alarms: of a run those that belong to it, of a boot those
// that belong to none of its runs.
func (r *Run) count(events []Event, runs []stretch) {
	for i := range events {
		e := &events[i]
		if !e.Raised || e.T < r.From || e.T > r.To || r.ID.N == 0 && inRun(runs, e.T) {
			continue
		}
		if r.Raised++; r.Raised == 1 {
			r.FirstOut = e.Alarm
		}
		if e.LevelN < uint8(engine.Warning) {
			continue
		}
		if r.Incidents++; r.Incidents == 1 && r.ID.N == 0 {
			r.Start = e.T
		}
		if r.ID.N == 0 {
			r.End = e.T
		}
	}
}
