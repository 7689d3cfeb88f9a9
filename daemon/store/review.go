package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"headroom/daemon/store/codec"
)

// Run is a run of the machine with its summary, or with number 0 what happened
// in a boot outside of its runs, as a motor that never began to turn.
type Run struct {
	ID RunID
	// Start and End are when the pump began to turn and last did; of a boot
	// when the first and the last incident outside of its runs came.
	Start, End time.Duration
	// From and To bound what belongs to the run: see Around. A boot's bound
	// nothing.
	From, To time.Duration
	// Ended is how: "" while it goes on, "stopped", "closed" with the program,
	// or "cut" off with the power. Of a boot "" while it may go on, else "over".
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
	// Raised counts the alarms that belong to the run, Incidents those of level
	// warning or act; FirstOut is the first one's name, empty for none. Of a
	// boot they are those that belong to none of its runs.
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

// Run returns one run; with number 0 a boot as far as incidents belong to none
// of its runs, or ErrNoRun where none do.
func (v *view) Run(ctx context.Context, id RunID) (Run, error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return Run{}, err
	}
	defer s.end()
	runs, err := s.stretches(ctx, id.Boot)
	if err != nil {
		return Run{}, err
	}
	return s.describe(ctx, id, runs)
}

// describe tells of one run, or with number 0 of a boot; runs are all of its
// boot.
func (s *snapshot) describe(ctx context.Context, id RunID, runs []stretch) (r Run, err error) {
	r = Run{ID: id, From: math.MinInt64, To: math.MaxInt64, Ended: endOver}
	if id.N > 0 {
		row, err := s.run(ctx, id)
		if err != nil {
			return r, err
		}
		r.Start, r.End, r.Ended, r.Summary = row.T0, row.T1, row.Ended, row.Summary
		if i := slices.IndexFunc(runs, func(x stretch) bool { return x.id == id }); i >= 0 {
			r.From, r.To = runs[i].from, runs[i].to
		}
	} else if id.Boot == s.live.boot {
		r.Ended = stillOpen
	}
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
	events, err := s.events(ctx, window{id.Boot, r.From, r.To})
	if err != nil {
		return r, err
	}
	r.count(events, runs)
	if id.N == 0 && r.Incidents == 0 {
		return r, fmt.Errorf("boot %d has no incident outside of its runs: %w", id.Boot, ErrNoRun)
	}
	r.StartWall, _ = c.wall(r.Start)
	return r, nil
}

// ListRuns returns the newest runs, newest first, no more than limit; 0 for
// all.
func (v *view) ListRuns(ctx context.Context, limit int) (out []Run, err error) {
	return v.list(ctx, limit, false)
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
