package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// loss is a span in which frames of the tail could not be read.
type loss struct {
	boot     uint64
	from, to int64
	why      error
}

// lose notes losses.
func (s *sealer) lose(list ...loss) {
	for _, l := range list {
		s.losses = append(s.losses, l)
		s.problems = append(s.problems, fmt.Sprintf("frames of boot %d between %v and %v are lost: %v",
			l.boot, time.Duration(l.from).Round(time.Millisecond), time.Duration(l.to).Round(time.Millisecond), l.why))
	}
}

// searcher tells between which frames the unreadable ones must lie.
type searcher struct {
	boot uint64
	last int64
	open *loss
}

func (l *searcher) bad(err error) {
	if l.open == nil {
		l.open = &loss{boot: l.boot, from: l.last, to: l.last, why: err}
	}
}

// good ends an open span at the next frame that can be read.
func (l *searcher) good(first, last int64) (done []loss) {
	if l.open != nil {
		l.open.to = max(first, l.open.from)
	}
	done = l.end()
	l.last = max(l.last, last)
	return done
}

func (l *searcher) end() (done []loss) {
	if l.open != nil {
		done = append(done, *l.open)
	}
	l.open = nil
	return done
}

// noteLosses writes what was lost into the record, so that whoever reads it
// later knows of it.
func (s *sealer) noteLosses(ctx context.Context, tx *sql.Tx, b *batch) error {
	for _, l := range s.losses {
		if l.boot != b.boot {
			continue
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO deletion (boot_now, wall_now, what, boot, t0, t1, bytes, why, link) VALUES (?, ?, ?, ?, ?, ?, 0, ?, ?)`,
			int64(b.boot), time.Now().UnixNano(), DeletedByDamage, int64(l.boot), l.from, l.to, "the file of the last minutes was damaged: "+l.why.Error(), s.link.next())
		if err != nil {
			return err
		}
	}
	return s.link.end(ctx, LinkDeletions, b.boot)
}
