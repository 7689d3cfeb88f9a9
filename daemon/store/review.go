package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"headroom/daemon/store/codec"
)

// Run is a run of the machine with its summary.
type Run struct {
	ID         RunID
	Start, End time.Duration
	// Ended is how: "" while it goes on, "stopped", "closed" with the program,
	// or "cut" off with the power.
	Ended string
	// StartWall is the best that is known of the time of the start; zero when
	// nothing is.
	StartWall time.Time
	// Software, Config (its hash) and Machine under which it was recorded.
	Software, Config, Machine string
	// Source is what gave the readings, and the file that the run was imported
	// from.
	Source  Source
	Summary Summary
	// Raised counts the alarms that came during the run, Incidents those of
	// level warning or act; FirstOut is the first one's name, empty for none.
	Raised, Incidents int
	FirstOut          string
}

// ErrNoRun is the error for a run that the record doesn't hold.
var ErrNoRun = errors.New("the record holds no such run")

// run reads one run, from the tail if it is newer there.
func (s *snapshot) run(ctx context.Context, id RunID) (row runRow, err error) {
	if st := s.live.state; st != nil && id.Boot == s.live.boot {
		for _, row := range st.Runs {
			if row.N == id.N {
				return s.goneOn(row), nil
			}
		}
	}
	row.N = id.N
	var text []byte
	err = s.QueryRowContext(ctx, "SELECT t0, t1, ended, summary FROM run WHERE boot = ? AND n = ?", int64(id.Boot), id.N).
		Scan((*int64)(&row.T0), (*int64)(&row.T1), &row.Ended, &text)
	if errors.Is(err, sql.ErrNoRows) {
		return row, fmt.Errorf("cannot find run %v: %w", id, ErrNoRun)
	}
	if err == nil {
		err = json.Unmarshal(text, &row.Summary)
	}
	if err != nil {
		return row, fmt.Errorf("cannot read run %v: %w", id, err)
	}
	if id.Boot == s.live.boot {
		row = s.goneOn(row)
	}
	return row, nil
}

// goneOn lets a run that is open end with the last frame that is safe.
func (s *snapshot) goneOn(row runRow) runRow {
	var c codec.Columns
	if n := len(s.live.blocks); row.Ended == stillOpen && n > 0 && readBlock(s.live.blocks[n-1], &c) == nil && c.Len() > 0 {
		row.T1 = max(row.T1, time.Duration(c.T[c.Len()-1]))
	}
	return row
}

// Run returns one run.
func (v *view) Run(ctx context.Context, id RunID) (Run, error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return Run{}, err
	}
	defer s.end()
	return s.describe(ctx, id)
}

func (s *snapshot) describe(ctx context.Context, id RunID) (r Run, err error) {
	row, err := s.run(ctx, id)
	if err != nil {
		return r, err
	}
	r = Run{ID: id, Start: row.T0, End: row.T1, Ended: row.Ended, Summary: row.Summary}
	var source string
	err = s.QueryRowContext(ctx, "SELECT software, config, machine, source FROM boot WHERE boot = ?", int64(id.Boot)).
		Scan(&r.Software, &r.Config, &r.Machine, &source)
	r.Source = sourceOf(source)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return r, fmt.Errorf("cannot read run %v: %w", id, err)
	}
	c, err := s.calendar(ctx, id.Boot)
	if err != nil {
		return r, err
	}
	r.StartWall, _ = c.wall(r.Start)
	events, err := s.events(ctx, window{id.Boot, r.Start, r.End})
	if err != nil {
		return r, err
	}
	for i := range events {
		if e := &events[i]; e.Raised {
			if r.Raised++; r.Raised == 1 {
				r.FirstOut = e.Alarm
			}
			if e.Incident() {
				r.Incidents++
			}
		}
	}
	return r, nil
}

// ListRuns returns the newest runs, newest first, no more than limit; 0 for
// all.
func (v *view) ListRuns(ctx context.Context, limit int) (out []Run, err error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer s.end()
	ids, err := s.runIDs(ctx, limit)
	if err != nil {
		return nil, err
	}
	for _, id := range ids {
		r, err := s.describe(ctx, id)
		if err != nil {
			return out, err
		}
		out = append(out, r)
	}
	return out, nil
}

func (s *snapshot) runIDs(ctx context.Context, limit int) (ids []RunID, err error) {
	if st := s.live.state; st != nil {
		for _, r := range slices.Backward(st.Runs) {
			ids = append(ids, RunID{s.live.boot, r.N})
		}
	}
	rows, err := s.QueryContext(ctx, "SELECT boot, n FROM run ORDER BY boot DESC, n DESC")
	if err != nil {
		return nil, fmt.Errorf("cannot list the runs: %w", err)
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() && (limit <= 0 || len(ids) < limit) {
		var boot int64
		var n int
		if err := rows.Scan(&boot, &n); err != nil {
			return nil, fmt.Errorf("cannot list the runs: %w", err)
		}
		id := RunID{uint64(boot), n}
		if !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	if limit > 0 && len(ids) > limit {
		ids = ids[:limit]
	}
	return ids, rows.Err()
}

// events reads the alarm transitions of a window. One that is damaged is left
// out and told by Check.
func (s *snapshot) events(ctx context.Context, w window) ([]Event, error) {
	out, err := jsonRows[Event](ctx, s, "SELECT data, sum FROM event WHERE boot = ? AND t BETWEEN ? AND ? ORDER BY t", w)
	if err != nil {
		return nil, fmt.Errorf("cannot read the events of boot %d: %w", w.boot, err)
	}
	if w.boot == s.live.boot {
		for _, e := range s.live.events {
			if e.T >= w.from && e.T <= w.to {
				out = append(out, e)
			}
		}
	}
	return out, nil
}

// jsonRows reads what was written with a checksum.
func jsonRows[T any](ctx context.Context, s *snapshot, ask string, w window) (out []T, err error) {
	rows, err := s.QueryContext(ctx, ask, int64(w.boot), int64(w.from), int64(w.to))
	if err != nil {
		return nil, err
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		var text []byte
		var sum int64
		if err := rows.Scan(&text, &sum); err != nil {
			return nil, err
		}
		if int64(codec.Sum(text)) == sum {
			if err := appendFrom(&out, text); err != nil {
				return nil, err
			}
		}
	}
	return out, rows.Err()
}

// Events returns the alarm transitions of a run, or of a whole boot with
// number 0, in the order of time.
func (v *view) Events(ctx context.Context, id RunID) ([]Event, error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer s.end()
	w, err := s.windowOf(ctx, id, 0, 0)
	if err != nil {
		return nil, err
	}
	return s.events(ctx, w)
}

// Acts returns what was done during a run, or during a whole boot with number
// 0, in the order in which it was told.
func (v *view) Acts(ctx context.Context, id RunID) ([]Act, error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer s.end()
	w, err := s.windowOf(ctx, id, 0, 0)
	if err != nil {
		return nil, err
	}
	out, err := jsonRows[Act](ctx, s, "SELECT data, sum FROM act WHERE boot = ? AND t BETWEEN ? AND ? ORDER BY n", w)
	if err != nil {
		return nil, fmt.Errorf("cannot read the acts of boot %d: %w", w.boot, err)
	}
	if w.boot == s.live.boot {
		for _, a := range s.live.acts {
			if a.T >= w.from && a.T <= w.to {
				out = append(out, a)
			}
		}
	}
	return out, nil
}

// Config returns the text of a configuration by its hash; ok is false where
// the record has none.
func (v *view) Config(ctx context.Context, hash string) (text []byte, ok bool, err error) {
	err = v.db.QueryRowContext(ctx, "SELECT text FROM config WHERE hash = ?", hash).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, fmt.Errorf("cannot read the config %s: %w", hash, err)
	}
	return text, true, nil
}

// Boots returns what is known of every boot, oldest first; without the
// configs' texts.
func (v *view) Boots(ctx context.Context) (out []Info, err error) {
	rows, err := v.db.QueryContext(ctx, "SELECT boot, software, config, machine, wall, kept, source FROM boot ORDER BY boot")
	if err != nil {
		return nil, fmt.Errorf("cannot list the boots: %w", err)
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		var i Info
		var boot int64
		var wall sql.NullInt64
		var source string
		if err := rows.Scan(&boot, &i.Software, &i.ConfigHash, &i.Machine, &wall, &i.Kept, &source); err != nil {
			return nil, fmt.Errorf("cannot list the boots: %w", err)
		}
		i.Boot = uint64(boot)
		if wall.Valid {
			i.StartWall = time.Unix(0, wall.Int64).UTC()
		}
		i.Source = sourceOf(source)
		out = append(out, i)
	}
	return out, rows.Err()
}
