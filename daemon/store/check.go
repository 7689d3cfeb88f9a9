package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"headroom/daemon/store/brief"
	"headroom/daemon/store/codec"
)

// Finding is what a check of the whole record came to.
type Finding struct {
	// Blocks that were read and whole, Thinned those of which only buckets are
	// left by intent.
	Blocks, Thinned int
	// Lost are the spans of time whose frames are damaged.
	Lost []LostError
	// Problems are all else that is damaged, in words.
	Problems []string
}

// OK reports whether nothing is damaged.
func (f *Finding) OK() bool { return len(f.Lost) == 0 && len(f.Problems) == 0 }

// Check reads all of the record: the database's own structure, every block
// with its frames, all buckets, events and acts. It may take minutes.
func (v *view) Check(ctx context.Context) (f Finding, err error) {
	rows, err := v.db.QueryContext(ctx, "PRAGMA integrity_check(20)")
	if err != nil {
		return f, fmt.Errorf("cannot check the record: %w", err)
	}
	for rows.Next() {
		var words string
		if err := rows.Scan(&words); err != nil {
			break // told by rows.Err
		}
		if words != "ok" {
			f.Problems = append(f.Problems, words)
		}
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return f, fmt.Errorf("cannot check the record: %w", err)
	}
	boots, err := v.Boots(ctx)
	if err != nil {
		return f, err
	}
	for i := range boots {
		if err := v.checkBoot(ctx, boots[i].Boot, &f); err != nil {
			return f, err
		}
	}
	return f, v.checkNotes(ctx, &f)
}

func (v *view) checkBoot(ctx context.Context, boot uint64, f *Finding) error {
	_, list, _, err := v.plan(ctx, RunID{boot, 0}, -1<<63, 1<<63-1)
	if err != nil {
		return err
	}
	var c codec.Columns
	for i := range list {
		k, err := v.load(ctx, &list[i])
		if err == nil {
			if e := k.Columns(&c); e != nil {
				err = &LostError{Boot: boot, From: time.Duration(list[i].T0), To: time.Duration(list[i].T1), Why: e.Error()}
			}
		}
		var lost *LostError
		switch {
		case err == nil:
			f.Blocks++
		case errors.As(err, &lost) && lost.Thinned:
			f.Thinned++
		case errors.As(err, &lost):
			f.Lost = append(f.Lost, *lost)
		default:
			return err
		}
	}
	return ctx.Err()
}

// checkNotes checks the checksums of the small things.
func (v *view) checkNotes(ctx context.Context, f *Finding) error {
	for _, q := range [...]struct {
		what, ask string
		good      func(text []byte, sum int64) bool
	}{
		{"alarm transition", "SELECT data, sum FROM event", sumGood},
		{"act", "SELECT data, sum FROM act", sumGood},
		{"row of buckets", "SELECT data, 0 FROM brief UNION ALL SELECT data, 0 FROM bucket", bucketsGood},
	} {
		bad, err := v.count(ctx, q.ask, q.good)
		if err != nil {
			return fmt.Errorf("cannot check the record: %w", err)
		}
		if bad > 0 {
			f.Problems = append(f.Problems, fmt.Sprintf("damaged: %d times %s", bad, q.what))
		}
	}
	return nil
}

func sumGood(text []byte, sum int64) bool { return int64(codec.Sum(text)) == sum }

func bucketsGood(data []byte, _ int64) bool {
	_, ok := brief.Read(data)
	return ok
}

func (v *view) count(ctx context.Context, ask string, good func([]byte, int64) bool) (bad int, err error) {
	rows, err := v.db.QueryContext(ctx, ask)
	if err != nil {
		return 0, err
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		var text []byte
		var sum int64
		if err := rows.Scan(&text, &sum); err != nil {
			return bad, err
		}
		if !good(text, sum) {
			bad++
		}
	}
	return bad, rows.Err()
}
