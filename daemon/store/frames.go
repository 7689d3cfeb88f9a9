package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"
	"time"

	"headroom/daemon/store/codec"
	"headroom/rules/frame"
)

// Tick is one frame as it went into the engine.
type Tick struct {
	T time.Duration
	// Wall is what the clock said, within Options.WallStep; zero for none. See
	// WallAt for what is known now.
	Wall  time.Time
	Frame frame.Frame
}

// LostError says which frames can't be given and why. What lies around them
// can.
type LostError struct {
	Boot uint64        `json:"boot"`
	From time.Duration `json:"from_ns"`
	To   time.Duration `json:"to_ns"`
	// Thinned is true where they were deleted to make room; else they are
	// damaged.
	Thinned bool   `json:"thinned,omitempty"`
	Why     string `json:"why"`
}

// Error names the interval.
func (e *LostError) Error() string {
	return fmt.Sprintf("the frames of boot %d from %v to %v can't be given: %s", e.Boot, e.From, e.To, e.Why)
}

// blockRow is a block as its row tells.
type blockRow struct {
	id int64
	blockMeta
	check int64
}

// snapshot is one moment of the record: a transaction of the database, and
// what wasn't in it yet.
type snapshot struct {
	*sql.Tx
	live *batch
}

// snapshot takes what is pending first: what is sealed after that is found in
// both, and left out here by its number.
func (v *view) snapshot(ctx context.Context) (*snapshot, error) {
	list := v.pendingList()
	tx, err := v.db.BeginTx(ctx, nil)
	if err != nil {
		return nil, fmt.Errorf("cannot read the record: %w", err)
	}
	var sealed int64
	if err := tx.QueryRowContext(ctx, "SELECT sealed_seq FROM state").Scan(&sealed); err != nil {
		_ = tx.Rollback() // the first error tells more
		return nil, fmt.Errorf("cannot read the record: %w", err)
	}
	return &snapshot{tx, unsealed(list, v.boot, uint64(sealed))}, nil
}

// end gives the transaction up; it was only read.
func (s *snapshot) end() { _ = s.Rollback() }

// window is a span of time in a boot, both ends inclusive.
type window struct {
	boot     uint64
	from, to time.Duration
}

// windowOf makes the window of a run: of all of it where from and to are 0.
func (s *snapshot) windowOf(ctx context.Context, id RunID, from, to time.Duration) (w window, err error) {
	w = window{id.Boot, from, to}
	if to == 0 {
		w.to = 1<<63 - 1
	}
	if id.N == 0 {
		if from == 0 {
			w.from = -1 << 63
		}
		return w, nil
	}
	row, err := s.run(ctx, id)
	if err != nil {
		return w, err
	}
	if from == 0 {
		w.from = row.T0
	}
	if to == 0 {
		w.to = row.T1
	}
	return w, nil
}

// blocks lists the blocks that meet a window.
func (s *snapshot) blocks(ctx context.Context, w window) (out []blockRow, err error) {
	const ask = "SELECT id, t0, t1, frames, channels, sum FROM block WHERE boot = ? AND t1 >= ? AND t0 <= ? ORDER BY t0"
	rows, err := s.QueryContext(ctx, ask, int64(w.boot), int64(w.from), int64(w.to))
	if err != nil {
		return nil, fmt.Errorf("cannot find the frames of boot %d: %w", w.boot, err)
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		r := blockRow{blockMeta: blockMeta{Boot: w.boot}}
		var channels int64
		if err := rows.Scan(&r.id, &r.T0, &r.T1, &r.Frames, &channels, &r.check); err != nil {
			return nil, fmt.Errorf("cannot find the frames of boot %d: %w", w.boot, err)
		}
		r.Channels = uint64(channels)
		out = append(out, r)
	}
	return out, rows.Err()
}

// load reads and checks a block's bytes. The error is a *LostError.
func (v *view) load(ctx context.Context, r *blockRow) (*codec.Block, error) {
	lost := func(why string) error {
		return &LostError{Boot: r.Boot, From: time.Duration(r.T0), To: time.Duration(r.T1), Why: why}
	}
	var data []byte
	err := v.db.QueryRowContext(ctx, "SELECT data FROM block_data WHERE block = ?", r.id).Scan(&data)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil, &LostError{r.Boot, time.Duration(r.T0), time.Duration(r.T1), true, "they were thinned to buckets to make room"}
	case err != nil:
		return nil, lost(err.Error())
	case r.sum(data) != r.check:
		return nil, lost("their checksum is wrong")
	}
	k, err := codec.Open(data)
	if err != nil {
		return nil, lost(err.Error())
	}
	return k, nil
}

// Frames gives the frames of a run in their order, bit for bit: from and to
// inclusive in monotonic time, or, where they are 0, from the run's beginning
// and to its end; RunID{Boot, 0} is a whole boot. Where frames are lost there
// is a *LostError in their place, and then it goes on; any other error is the
// last.
func (v *view) Frames(ctx context.Context, id RunID, from, to time.Duration) iter.Seq2[Tick, error] {
	return func(yield func(Tick, error) bool) {
		w, list, live, err := v.plan(ctx, id, from, to)
		if err != nil {
			yield(Tick{}, err)
			return
		}
		g := giver{w: w, yield: yield}
		var c codec.Columns
		for i := range list {
			k, err := v.load(ctx, &list[i])
			if err == nil {
				if e := k.Columns(&c); e != nil {
					err = &LostError{Boot: w.boot, From: time.Duration(list[i].T0), To: time.Duration(list[i].T1), Why: e.Error()}
				}
			}
			if err != nil {
				if !yield(Tick{}, err) {
					return
				}
				continue
			}
			if !g.give(&c) {
				return
			}
		}
		g.give(live)
	}
}

// plan finds the blocks of a window and what is not in blocks yet.
func (v *view) plan(ctx context.Context, id RunID, from, to time.Duration) (w window, list []blockRow, live *codec.Columns, err error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return w, nil, nil, err
	}
	defer s.end()
	if w, err = s.windowOf(ctx, id, from, to); err != nil {
		return w, nil, nil, err
	}
	if list, err = s.blocks(ctx, w); err != nil {
		return w, nil, nil, err
	}
	live = &codec.Columns{}
	if w.boot == s.live.boot {
		after := int64(-1 << 63)
		if n := len(list); n > 0 {
			after = list[n-1].T1
		}
		live = s.live.columns(after)
	}
	return w, list, live, nil
}

// giver hands frames to a loop.
type giver struct {
	w     window
	yield func(Tick, error) bool
	tick  Tick
}

func (g *giver) give(c *codec.Columns) (more bool) {
	for i, t := range c.T {
		if t < int64(g.w.from) || t > int64(g.w.to) {
			continue
		}
		g.tick.T, g.tick.Wall = time.Duration(t), time.Time{}
		if c.Wall[i] != codec.NoWall {
			g.tick.Wall = time.Unix(0, c.Wall[i]+t).UTC()
		}
		c.Frame(i, &g.tick.Frame)
		if !g.yield(g.tick, nil) {
			return false
		}
	}
	return true
}
