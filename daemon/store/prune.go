package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// Deletion is one step that made room.
type Deletion struct {
	// When it was done: in which boot, and what the clock said.
	BootNow uint64
	WallNow time.Time
	// What was deleted: "frames" (the buckets stay), "buckets", "boot", or
	// "damage" where a damaged database was put aside and taken over.
	What string
	// Of which boot and time, how many bytes, and why.
	Boot     uint64
	From, To time.Duration
	Bytes    int64
	Why      string
}

// goesOn adds a deletion that begins where this one ended.
func (d *Deletion) goesOn(o *Deletion) bool {
	if o.BootNow != d.BootNow || o.What != d.What || o.Boot != d.Boot || o.Why != d.Why || o.From < d.To || d.What == DeletedByDamage {
		return false
	}
	d.To, d.Bytes, d.WallNow = o.To, d.Bytes+o.Bytes, o.WallNow
	return true
}

// DeletedByDamage is Deletion.What of what no one deleted: frames of the tail
// that could not be read, or a damaged database that was put aside.
const DeletedByDamage = "damage"

// steps of making room, in their order: what is looked for, oldest first. The
// frames of idle time go first, then those of runs in which nothing happened,
// of runs with incidents outside the minutes around them, and only then those
// minutes. Then buckets, and at last whole boots. What may yet become the time
// before an incident is left alone: ?1 is this boot, ?2 when that begins.
var pruneSteps = [...]struct{ what, find, why string }{
	{"frames", withData + "AND b.incident = 0 AND b.run = 0 ORDER BY b.boot, b.t0 LIMIT 1", "oldest between runs"},
	{"frames", withData + `AND b.incident = 0 AND NOT EXISTS (SELECT 1 FROM run r JOIN event e ON e.boot = r.boot AND e.t BETWEEN r.t0 AND r.t1
		WHERE r.boot = b.boot AND r.n = b.run AND e.incident) ORDER BY b.boot, b.t0 LIMIT 1`, "oldest of runs without an incident"},
	{"frames", withData + "AND b.incident = 0 ORDER BY b.boot, b.t0 LIMIT 1", "oldest outside of incidents"},
	{"frames", withData + "ORDER BY b.boot, b.t0 LIMIT 1", "oldest of incidents: nothing else was left"},
	{"buckets", "SELECT b.id, b.boot, b.t0, b.t1, length(x.data) FROM block b JOIN brief x ON x.block = b.id WHERE (b.boot <> ?1 OR b.t1 < ?2) ORDER BY b.incident, b.boot, b.t0 LIMIT 1", "oldest buckets"},
}

const withData = "SELECT b.id, b.boot, b.t0, b.t1, b.bytes FROM block b JOIN block_data x ON x.block = b.id WHERE (b.boot <> ?1 OR b.t1 < ?2) "

// reserve is what is kept free below the limit, so that a step of making room
// serves for a while: a hundredth.
const reserve = 100

// prune makes room until the record is within its size. One transaction for
// each sealing bounds how long that takes.
func (s *Store) prune(ctx context.Context) error {
	limit := s.opts.MaxBytes - s.opts.TailBytes - walBytes
	used, err := usedBytes(ctx, s.w)
	if err != nil || used <= limit {
		return err
	}
	err = inTx(ctx, s.w, func(tx *sql.Tx) error {
		l, err := newLinker(ctx, tx)
		if err != nil {
			return err
		}
		for goal := limit - limit/reserve; used > goal; {
			freed, err := s.pruneOne(ctx, tx, l)
			if err != nil {
				return err
			}
			if freed == 0 {
				break
			}
			used -= freed
		}
		return l.end(ctx, LinkDeletions, s.boot)
	})
	if err != nil {
		return fmt.Errorf("cannot make room in the record: %w", err)
	}
	return nil
}

// usedBytes are the pages in use; those free are used again, so the file
// doesn't grow beyond the most there ever was.
func usedBytes(ctx context.Context, db *sql.DB) (used int64, err error) {
	const ask = "SELECT (c.page_count - f.freelist_count) * p.page_size FROM pragma_page_count c, pragma_freelist_count f, pragma_page_size p"
	if err := db.QueryRowContext(ctx, ask).Scan(&used); err != nil {
		return 0, fmt.Errorf("cannot tell the size of the record: %w", err)
	}
	return used, nil
}

// pruneOne deletes the first thing that a step finds; freed is about the bytes
// won, 0 when nothing was left to delete.
func (s *Store) pruneOne(ctx context.Context, tx *sql.Tx, l *linker) (freed int64, err error) {
	for i := range pruneSteps {
		p := &pruneSteps[i]
		var id, boot, t0, t1 int64
		err := tx.QueryRowContext(ctx, p.find, int64(s.boot), int64(s.last-s.opts.IncidentBefore)).Scan(&id, &boot, &t0, &t1, &freed)
		if errors.Is(err, sql.ErrNoRows) {
			continue
		}
		if err != nil {
			return 0, err
		}
		table := "block_data"
		if p.what == "buckets" {
			table = "brief"
		}
		if _, err := tx.ExecContext(ctx, "DELETE FROM "+table+" WHERE block = ?", id); err != nil {
			return 0, err
		}
		return max(freed, 1), s.noteDeletion(ctx, tx, l, &Deletion{
			What: p.what, Boot: uint64(boot), From: time.Duration(t0), To: time.Duration(t1), Bytes: freed, Why: p.why,
		})
	}
	return s.pruneBoot(ctx, tx, l)
}

// pruneBoot deletes all of the oldest boot but its sums, which are the life's.
func (s *Store) pruneBoot(ctx context.Context, tx *sql.Tx, l *linker) (freed int64, err error) {
	var boot, t0, t1 int64
	err = tx.QueryRowContext(ctx, "SELECT boot, min(t0), max(t1) FROM block WHERE boot < ? GROUP BY boot ORDER BY boot LIMIT 1", int64(s.boot)).Scan(&boot, &t0, &t1)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	for _, table := range [...]string{"block", "bucket", "event", "act", "clock", "incident", "run", "digest"} {
		if _, err := tx.ExecContext(ctx, "DELETE FROM "+table+" WHERE boot = ?", boot); err != nil {
			return 0, err
		}
	}
	const about = pageBytes // the least that this frees
	return about, s.noteDeletion(ctx, tx, l, &Deletion{
		What: "boot", Boot: uint64(boot), From: time.Duration(t0), To: time.Duration(t1), Bytes: about, Why: "oldest boot: only its counters stay",
	})
}

// noteDeletion writes a deletion down.
func (s *Store) noteDeletion(ctx context.Context, tx *sql.Tx, l *linker, d *Deletion) error {
	_, err := tx.ExecContext(ctx, `INSERT INTO deletion (boot_now, wall_now, what, boot, t0, t1, bytes, why, link) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		int64(s.boot), time.Now().UnixNano(), d.What, int64(d.Boot), int64(d.From), int64(d.To), d.Bytes, d.Why, l.next())
	return err
}

// Deletions returns what was deleted to keep within the size, oldest first.
// Steps that go on where the last one ended are told as one.
func (v *view) Deletions(ctx context.Context) (out []Deletion, err error) {
	rows, err := v.db.QueryContext(ctx, "SELECT boot_now, wall_now, what, boot, t0, t1, bytes, why FROM deletion ORDER BY id")
	if err != nil {
		return nil, fmt.Errorf("cannot read what was deleted: %w", err)
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		var d Deletion
		var wall int64
		if err := rows.Scan(&d.BootNow, &wall, &d.What, &d.Boot, (*int64)(&d.From), (*int64)(&d.To), &d.Bytes, &d.Why); err != nil {
			return nil, fmt.Errorf("cannot read what was deleted: %w", err)
		}
		d.WallNow = time.Unix(0, wall).UTC()
		if n := len(out); n == 0 || !out[n-1].goesOn(&d) {
			out = append(out, d)
		}
	}
	return out, rows.Err()
}
