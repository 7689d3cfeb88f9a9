package store

import (
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"headroom/daemon/store/brief"
	"headroom/daemon/store/codec"
	"headroom/rules/frame"
)

// maxSealFrames is the most frames in a block.
const maxSealFrames = codec.MaxFrames

// widths of the buckets: those of level 0 lie beside each block, the coarser
// ones have rows of their own.
var widths = [...]time.Duration{30 * time.Second, 10 * time.Minute, 4 * time.Hour}

// sealer writes batches into the database.
type sealer struct {
	opts *Options
	enc  codec.Encoder
	link *linker
	// problems are what of a batch couldn't be read, in words, and losses the
	// spans in which it lies.
	problems []string
	losses   []loss
}

// write puts batches into the database in one transaction, together with the
// number of the last record of the tail that is in them: so all of it is
// taken over, once, or nothing.
func (s *sealer) write(ctx context.Context, db *sql.DB, batches []*batch, seq uint64) error {
	s.problems, s.losses = nil, nil
	return inTx(ctx, db, func(tx *sql.Tx) (err error) {
		if s.link, err = newLinker(ctx, tx); err != nil {
			return err
		}
		for _, b := range batches {
			if err := s.one(ctx, tx, b); err != nil {
				return err
			}
		}
		_, err = tx.ExecContext(ctx, "UPDATE state SET sealed_seq = max(sealed_seq, ?), clean = 0", int64(seq))
		return err
	})
}

func (s *sealer) one(ctx context.Context, tx *sql.Tx, b *batch) error {
	if _, err := tx.ExecContext(ctx, "INSERT OR IGNORE INTO boot (boot, software, config, machine, link) VALUES (?, '', '', '', ?)", int64(b.boot), s.link.next()); err != nil {
		return err
	}
	if err := s.link.end(ctx, LinkBoot, b.boot); err != nil {
		return err
	}
	for _, do := range [...]func(context.Context, *sql.Tx, *batch) error{s.runs, s.events, s.acts, s.clock, s.digests, s.blocks, s.incidents, s.noteLosses} {
		if err := do(ctx, tx, b); err != nil {
			return fmt.Errorf("cannot take boot %d over into the record: %w", b.boot, err)
		}
	}
	return nil
}

// runs writes runs and sums as the batch knows them. A run that has ended stays
// as it is.
func (s *sealer) runs(ctx context.Context, tx *sql.Tx, b *batch) error {
	if b.state == nil {
		return nil
	}
	for i := range b.state.Runs {
		r := &b.state.Runs[i]
		text, err := json.Marshal(&r.Summary)
		if err != nil {
			return err
		}
		const put = `INSERT INTO run (boot, n, t0, t1, ended, summary, link) VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO
			UPDATE SET t0 = excluded.t0, t1 = excluded.t1, ended = excluded.ended, summary = excluded.summary, link = excluded.link WHERE ended = ''`
		if _, err := tx.ExecContext(ctx, put, int64(b.boot), r.N, int64(r.T0), int64(r.T1), r.Ended, text, s.link.next()); err != nil {
			return err
		}
	}
	if err := s.link.end(ctx, LinkRuns, b.boot); err != nil {
		return err
	}
	text, err := json.Marshal(&b.state.Sums)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "UPDATE boot SET sums = ? WHERE boot = ?", text, int64(b.boot))
	return err
}

// events writes alarm transitions. What is there already, as after a retry,
// stays; so it is with acts.
func (s *sealer) events(ctx context.Context, tx *sql.Tx, b *batch) error {
	for i := range b.events {
		e := &b.events[i]
		text, sum, err := checked(e)
		if err == nil {
			_, err = tx.ExecContext(ctx, "INSERT OR IGNORE INTO event (boot, t, alarm, raised, incident, data, sum, link) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
				int64(b.boot), int64(e.T), e.Alarm, e.Raised, e.Incident(), text, sum, s.link.next())
		}
		if err != nil {
			return err
		}
	}
	return s.link.end(ctx, LinkEvents, b.boot)
}

func (s *sealer) acts(ctx context.Context, tx *sql.Tx, b *batch) error {
	for i := range b.acts {
		a := &b.acts[i]
		text, sum, err := checked(a)
		if err == nil {
			_, err = tx.ExecContext(ctx, "INSERT OR IGNORE INTO act (boot, n, t, data, sum, link) VALUES (?, ?, ?, ?, ?, ?)",
				int64(b.boot), a.N, int64(a.T), text, sum, s.link.next())
		}
		if err != nil {
			return err
		}
	}
	return s.link.end(ctx, LinkActs, b.boot)
}

// clock writes observations; of those of one moment in a batch the last one
// counts.
func (s *sealer) clock(ctx context.Context, tx *sql.Tx, b *batch) error {
	for i := range b.clock {
		o := &b.clock[i]
		if _, err := tx.ExecContext(ctx, "INSERT OR REPLACE INTO clock (boot, t, trust, wall, link) VALUES (?, ?, ?, ?, ?)",
			int64(b.boot), int64(o.T), uint8(o.Trust), o.Wall.UnixNano(), s.link.next()); err != nil {
			return err
		}
	}
	return s.link.end(ctx, LinkClock, b.boot)
}

// checked is a value as JSON with its checksum.
func checked(v any) (text []byte, sum int64, err error) {
	text, err = json.Marshal(v)
	return text, int64(codec.Sum(text)), err
}

// blocks joins the batch's frames and cuts them anew: at the ends of runs, so
// that what lies between can be thinned first, and at a greatest length.
func (s *sealer) blocks(ctx context.Context, tx *sql.Tx, b *batch) error {
	var last sql.NullInt64
	const newest = "SELECT max(t1) FROM (SELECT t1 FROM block WHERE boot = ? ORDER BY t0 DESC LIMIT 1)"
	if err := tx.QueryRowContext(ctx, newest, int64(b.boot)).Scan(&last); err != nil {
		return err
	}
	spans, err := runSpans(ctx, tx, b.boot)
	if err != nil {
		return err
	}
	var small, piece codec.Columns
	run, f := 0, frame.Frame{}
	for _, k := range s.inOrder(b) {
		if err := k.Columns(&small); err != nil {
			s.lose(loss{b.boot, small.T[0], small.T[len(small.T)-1], err})
			continue
		}
		for i, t := range small.T {
			if last.Valid && t <= last.Int64 {
				continue
			}
			at := spans.at(t)
			if n := piece.Len(); n > 0 && (at != run || n >= s.opts.SealFrames) {
				if err := s.block(ctx, tx, b.boot, run, &piece); err != nil {
					return err
				}
			}
			small.Frame(i, &f)
			piece.Append(t, small.Wall[i], &f)
			run, last = at, sql.NullInt64{Int64: t, Valid: true}
		}
	}
	if err := s.block(ctx, tx, b.boot, run, &piece); err != nil {
		return err
	}
	return s.link.end(ctx, LinkFrames, b.boot)
}

// inOrder opens the batch's blocks and puts them in the order of their first
// frame. After a retry the same frames may be in two of them.
func (s *sealer) inOrder(b *batch) []*codec.Block {
	var out []*codec.Block
	first := map[*codec.Block]int64{}
	var c codec.Columns
	l := searcher{boot: b.boot}
	for _, data := range b.blocks {
		k, err := codec.Open(data)
		if err == nil {
			err = k.Times(&c)
		}
		if err != nil {
			l.bad(err)
			continue
		}
		if n := k.Len(); n > 0 {
			s.lose(l.good(c.T[0], c.T[n-1])...)
			first[k] = c.T[0]
			out = append(out, k)
		}
	}
	s.lose(l.end()...)
	slices.SortStableFunc(out, func(x, y *codec.Block) int { return cmp.Compare(first[x], first[y]) })
	return out
}

func readBlock(data []byte, c *codec.Columns) error {
	k, err := codec.Open(data)
	if err != nil {
		return err
	}
	return k.Columns(c)
}

// block writes one block with its buckets, and empties the columns.
func (s *sealer) block(ctx context.Context, tx *sql.Tx, boot uint64, run int, c *codec.Columns) error {
	n := c.Len()
	if n == 0 {
		return nil
	}
	data, err := s.enc.Append(nil, c)
	if err != nil {
		return err
	}
	meta := blockMeta{Boot: boot, T0: c.T[0], T1: c.T[n-1], Frames: n}
	for ch := range c.Status {
		if len(c.Status[ch]) > 0 {
			meta.Channels |= 1 << ch
		}
	}
	fine := brief.Of(c, int64(widths[0]))
	packed := brief.Append(nil, fine)
	const put = "INSERT INTO block (boot, t0, t1, frames, channels, run, incident, bytes, sum, proof, link) VALUES (?, ?, ?, ?, ?, ?, 0, ?, ?, ?, ?)"
	res, err := tx.ExecContext(ctx, put, int64(boot), meta.T0, meta.T1, n, int64(meta.Channels), run, len(data), meta.sum(data), proofOf(data, packed), s.link.next())
	if err != nil {
		return err
	}
	id, err := res.LastInsertId()
	if err != nil {
		return err
	}
	// What a damaged record kept of a block that it lost gives way: nobody finds
	// it any more, and it must not stop the recording.
	if _, err := tx.ExecContext(ctx, "INSERT OR REPLACE INTO block_data VALUES (?, ?)", id, data); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "INSERT OR REPLACE INTO brief VALUES (?, ?)", id, packed); err != nil {
		return err
	}
	c.Reset()
	return s.coarse(ctx, tx, boot, fine)
}

// proofOf is what is left of a block and its buckets when they are thinned: a
// SHA-256 of each.
func proofOf(data, packed []byte) []byte {
	a, b := sha256.Sum256(data), sha256.Sum256(packed)
	return append(a[:], b[:]...)
}

// coarse adds buckets to those of the coarser levels.
func (s *sealer) coarse(ctx context.Context, tx *sql.Tx, boot uint64, fine []brief.Bucket) error {
	for level := 1; level < len(widths); level++ {
		for _, b := range brief.Coarser(fine, int64(widths[level]/widths[0])) {
			var data []byte
			err := tx.QueryRowContext(ctx, "SELECT data FROM bucket WHERE level = ? AND boot = ? AND start = ?", level, int64(boot), b.Index).Scan(&data)
			if err != nil && !errors.Is(err, sql.ErrNoRows) {
				return err
			}
			all := []brief.Bucket{b}
			if old, ok := brief.Read(data); ok {
				all = brief.Merge(old, all)
			}
			_, err = tx.ExecContext(ctx, "INSERT OR REPLACE INTO bucket VALUES (?, ?, ?, ?)", level, int64(boot), b.Index, brief.Append(nil, all))
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// incidents writes the windows that are kept longest, and marks the blocks in
// them, earlier ones too.
func (s *sealer) incidents(ctx context.Context, tx *sql.Tx, b *batch) error {
	mark := func(t time.Duration, cause string) error {
		from, to := int64(t-s.opts.IncidentBefore), int64(t+s.opts.IncidentAfter)
		_, err := tx.ExecContext(ctx, "INSERT OR IGNORE INTO incident VALUES (?, ?, ?, ?)", int64(b.boot), from, to, cause)
		return err
	}
	for i := range b.events {
		if e := &b.events[i]; e.Incident() {
			if err := mark(e.T, e.Alarm); err != nil {
				return err
			}
		}
	}
	for i := range b.acts {
		if a := &b.acts[i]; a.Incident {
			if err := mark(a.T, a.What); err != nil {
				return err
			}
		}
	}
	_, err := tx.ExecContext(ctx, `UPDATE block SET incident = 1 WHERE boot = ? AND incident = 0 AND EXISTS
		(SELECT 1 FROM incident i WHERE i.boot = block.boot AND i.t0 <= block.t1 AND i.t1 >= block.t0)`, int64(b.boot))
	return err
}

// blockMeta is what stands beside a block in the database; its checksum covers
// that and the block, so that no flipped bit moves frames to another time.
type blockMeta struct {
	Boot     uint64
	T0, T1   int64
	Frames   int
	Channels uint64
}

func (m *blockMeta) sum(data []byte) int64 {
	b := make([]byte, 0, 48)
	for _, x := range [...]uint64{m.Boot, uint64(m.T0), uint64(m.T1), uint64(m.Frames), m.Channels, uint64(codec.Sum(data))} {
		b = binary.LittleEndian.AppendUint64(b, x)
	}
	return int64(codec.Sum(b))
}

// spans are the runs of a boot in their order.
type spans []runRow

func runSpans(ctx context.Context, tx *sql.Tx, boot uint64) (out spans, err error) {
	rows, err := tx.QueryContext(ctx, "SELECT n, t0, t1, ended FROM run WHERE boot = ? ORDER BY n", int64(boot))
	if err != nil {
		return nil, err
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		var r runRow
		if err := rows.Scan(&r.N, (*int64)(&r.T0), (*int64)(&r.T1), &r.Ended); err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, rows.Err()
}

// at is the number of the run that a time lies in, 0 for none. A run that is
// open goes on.
func (s spans) at(t int64) int {
	for i := len(s) - 1; i >= 0; i-- {
		if t >= int64(s[i].T0) {
			if t <= int64(s[i].T1) || s[i].Ended == stillOpen {
				return s[i].N
			}
			return 0
		}
	}
	return 0
}
