package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"time"

	"headroom/rules/engine"
)

// VerdictDigest is a SHA-256 over the verdicts of some neighbouring frames, as
// engine.Verdicts.Append writes them down, one after the other. The engine is
// the same to the last bit wherever it runs, so a replay must come to the same
// digests; where it does, the alarms of then are those of the frames recorded.
type VerdictDigest struct {
	Boot uint64
	// From and To are the first and the last frame's time, Frames their number.
	From, To time.Duration
	Frames   int
	Sum      Digest
}

// summer makes digests while frames come: one goes on until what it covers is
// sealed, or is long enough.
type summer struct {
	now  VerdictDigest
	hash hash.Hash
	buf  []byte
}

// add takes the verdicts of a frame.
func (s *summer) add(t time.Duration, v *engine.Verdicts) {
	if s.hash == nil {
		s.hash = sha256.New()
	}
	if s.now.Frames == 0 {
		s.now.From = t
		s.hash.Reset()
	}
	s.buf = v.Append(s.buf[:0])
	s.hash.Write(s.buf)
	s.now.To = t
	s.now.Frames++
}

// restart begins the next digest with the next frame.
func (s *summer) restart() { s.now = VerdictDigest{} }

// take is the digest as far as it has come.
func (s *summer) take() VerdictDigest {
	d := s.now
	d.Sum = Digest(s.hash.Sum(nil))
	return d
}

// append packs a digest for the tail: as small as can be, as it stands in
// every record of it.
func (d *VerdictDigest) append(dst []byte) []byte {
	dst = binary.AppendVarint(dst, int64(d.From))
	dst = binary.AppendUvarint(dst, uint64(d.To-d.From))
	dst = binary.AppendUvarint(dst, uint64(d.Frames))
	return append(dst, d.Sum[:]...)
}

var errDigest = errors.New("a digest of verdicts is damaged")

func readDigest(b []byte) (d VerdictDigest, err error) {
	from, n := binary.Varint(b)
	width, m := binary.Uvarint(b[max(n, 0):])
	frames, k := binary.Uvarint(b[max(n, 0)+max(m, 0):])
	rest := b[max(n, 0)+max(m, 0)+max(k, 0):]
	if n <= 0 || m <= 0 || k <= 0 || len(rest) != len(d.Sum) {
		return d, errDigest
	}
	return VerdictDigest{From: time.Duration(from), To: time.Duration(from + int64(width)), Frames: int(frames), Sum: Digest(rest)}, nil
}

// addDigest keeps the last of those that begin with the same frame: it holds
// the others.
func addDigest(list []VerdictDigest, d VerdictDigest) []VerdictDigest {
	for i := range list {
		if list[i].From == d.From {
			if d.Frames > list[i].Frames {
				list[i] = d
			}
			return list
		}
	}
	return append(list, d)
}

// digests writes those of a batch.
func (s *sealer) digests(ctx context.Context, tx *sql.Tx, b *batch) error {
	for i := range b.digests {
		d := &b.digests[i]
		_, err := tx.ExecContext(ctx, "INSERT OR IGNORE INTO digest (boot, t0, t1, frames, sum, link) VALUES (?, ?, ?, ?, ?, ?)",
			int64(b.boot), int64(d.From), int64(d.To), d.Frames, d.Sum[:], s.link.next())
		if err != nil {
			return err
		}
	}
	return s.link.end(ctx, LinkVerdicts, b.boot)
}

// Digests returns the digests over a boot's verdicts in the order of time. A
// few frames may be in none of them, as when the tail had overflowed.
func (v *view) Digests(ctx context.Context, boot uint64) (out []VerdictDigest, err error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer s.end()
	rows, err := s.QueryContext(ctx, "SELECT t0, t1, frames, sum FROM digest WHERE boot = ? ORDER BY t0", int64(boot))
	if err != nil {
		return nil, fmt.Errorf("cannot read the digests of boot %d: %w", boot, err)
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		d := VerdictDigest{Boot: boot}
		var sum []byte
		if err := rows.Scan((*int64)(&d.From), (*int64)(&d.To), &d.Frames, &sum); err != nil {
			return nil, fmt.Errorf("cannot read the digests of boot %d: %w", boot, err)
		}
		copy(d.Sum[:], sum) // a damaged one matches nothing
		out = append(out, d)
	}
	if boot == s.live.boot {
		for _, d := range s.live.digests {
			d.Boot = boot
			out = append(out, d)
		}
	}
	return out, rows.Err()
}

// Match is what the comparison of a replay with a boot's digests came to.
type Match struct {
	// Same and Different are the spans whose verdicts were compared.
	Same, Different []VerdictDigest
	// Missing are the spans of which the replay hadn't all frames.
	Missing []VerdictDigest
	// Frames that were compared, and those that no digest covers.
	Frames, Uncovered int
}

// Matcher compares the verdicts of a replay with the digests of then.
type Matcher struct {
	list  []VerdictDigest
	now   summer
	match Match
}

// NewMatcher compares with digests as Digests returns them.
func NewMatcher(list []VerdictDigest) *Matcher { return &Matcher{list: list} }

// Note takes the verdicts of the next frame.
func (m *Matcher) Note(v *engine.Verdicts) {
	for len(m.list) > 0 && v.T > m.list[0].To {
		m.finish()
	}
	if len(m.list) == 0 || v.T < m.list[0].From {
		m.match.Uncovered++
		return
	}
	m.now.add(v.T, v)
}

// finish compares the span that is over.
func (m *Matcher) finish() {
	want := m.list[0]
	m.list = m.list[1:]
	got := m.now.now
	switch {
	case got.Frames != want.Frames || got.From != want.From || got.To != want.To:
		m.match.Missing = append(m.match.Missing, want)
	default:
		sum := m.now.take().Sum
		if bytes.Equal(sum[:], want.Sum[:]) {
			m.match.Same = append(m.match.Same, want)
		} else {
			m.match.Different = append(m.match.Different, want)
		}
		m.match.Frames += got.Frames
	}
	m.now.restart()
}

// End returns the outcome after the last frame.
func (m *Matcher) End() Match {
	for len(m.list) > 0 {
		m.finish()
	}
	return m.match
}
