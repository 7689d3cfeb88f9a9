package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"headroom/daemon/store/codec"
	"headroom/daemon/store/tail"
)

// merge takes over what the last boot, or more of them, left in the tail. The
// number of the last record goes into the database with it, in one
// transaction, so that nothing is taken over twice, whenever the power fails.
func (s *Store) merge(ctx context.Context, left []tail.Record) error {
	if len(left) == 0 {
		return s.endCutRuns(ctx)
	}
	var batches []*batch
	for i := range left {
		r := &left[i]
		if n := len(batches); n == 0 || batches[n-1].boot != r.Boot {
			batches = append(batches, &batch{boot: r.Boot})
		}
		if err := batches[len(batches)-1].add(r.Payload); err != nil {
			s.problem(fmt.Sprintf("boot %d: %v", r.Boot, err))
		}
	}
	for _, b := range batches {
		b.cut()
	}
	seq := left[len(left)-1].Seq
	if err := s.seal.write(ctx, s.w, batches, seq); err != nil {
		return err
	}
	for _, p := range s.seal.problems {
		s.problem(p)
	}
	s.ring.Release(seq)
	s.setSealed(seq)
	s.note(func(h *Health) { h.TakenOver = len(left) })
	return s.endCutRuns(ctx)
}

// cut lets a run that was open go on up to the last frame, which lies no more
// than a state's distance after it was last told of.
func (b *batch) cut() {
	if b.state == nil || len(b.state.Runs) == 0 {
		return
	}
	r := &b.state.Runs[len(b.state.Runs)-1]
	if r.Ended != stillOpen {
		return
	}
	var c codec.Columns
	for i := len(b.blocks) - 1; i >= 0; i-- {
		if readBlock(b.blocks[i], &c) == nil && c.Len() > 0 {
			r.T1 = max(r.T1, time.Duration(c.T[c.Len()-1]))
			return
		}
	}
}

// endCutRuns ends the runs that no boot will go on with. A run whose last
// state is in the database while later frames were sealed too goes on to the
// last frame.
func (s *Store) endCutRuns(ctx context.Context) error {
	err := inTx(ctx, s.w, func(tx *sql.Tx) error {
		boots, err := bootsOf(ctx, tx, "SELECT DISTINCT boot FROM run WHERE ended = '' ORDER BY boot")
		if err != nil || len(boots) == 0 {
			return err
		}
		l, err := newLinker(ctx, tx)
		if err != nil {
			return err
		}
		for _, boot := range boots {
			if _, err := tx.ExecContext(ctx, `UPDATE run SET ended = ?, link = ?,
				t1 = max(t1, coalesce((SELECT max(b.t1) FROM block b WHERE b.boot = run.boot AND b.run = run.n), t1))
				WHERE ended = ? AND boot = ?`, endCut, l.next(), stillOpen, boot); err != nil {
				return err
			}
			if err := l.end(ctx, LinkRuns, uint64(boot)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("cannot end the run that was cut off: %w", err)
	}
	return nil
}

// bootsOf reads numbers of boots.
func bootsOf(ctx context.Context, q querier, ask string) (out []int64, err error) {
	rows, err := q.QueryContext(ctx, ask)
	if err != nil {
		return nil, err
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		var boot int64
		if err := rows.Scan(&boot); err != nil {
			return nil, err
		}
		out = append(out, boot)
	}
	return out, rows.Err()
}
