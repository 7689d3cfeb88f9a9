package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// The chain vouches for what is sealed. Each transaction that adds to the
// record adds a link for each kind of rows in it; a link's head is a SHA-256
// over the head before it and a description of the link, and the description
// holds a hash over the rows:
//
//	head    = SHA-256(head before | description); 32 zeros stand before link 0
//	description = "headroom link 1\n" | pos | kind | boot | t0 | t1 | rows |
//	              content; each number 8 bytes, big endian
//	content = SHA-256 over the SHA-256 of each row, these in ascending order
//	row     = the columns that rowsOf lists, one after the other: "n" for NULL,
//	          "i" and 8 bytes for a number, "s", the length in 8 bytes and the
//	          bytes for text
//
// Link 0 begins the chain with 32 random bytes as its content: they name the
// record. Its boot is the last one from before there was a chain. What is thinned leaves its row with the hash of what it was, and the
// deletion is a row with a link of its own.
//
// The counters of boots, which grow while a boot goes on, the coarser buckets
// and runs that go on are not in it, nor is what is only in the tail.

// LinkKind says what a link vouches for.
type LinkKind uint8

// The kinds of links. Their numbers stand in records: never renumber.
const (
	// LinkBegin is link 0.
	LinkBegin LinkKind = iota
	LinkBoot
	LinkConfig
	LinkFrames
	LinkVerdicts
	LinkEvents
	LinkActs
	LinkClock
	LinkRuns
	LinkDeletions
	LinkLife
	numLinkKinds
)

// rowsOf tells for each kind its name for people and how its rows of one boot
// are read: the link, the first and the last time, and then what is hashed.
var rowsOf = [numLinkKinds]struct{ name, ask string }{
	LinkBegin:     {"the beginning", ""},
	LinkBoot:      {"the boot", "SELECT link, 0, 0, boot, software, config, machine, wall, kept, source FROM boot WHERE boot = ?"},
	LinkConfig:    {"the config", "SELECT link, 0, 0, hash, text FROM config WHERE boot = ?"},
	LinkFrames:    {"frames", "SELECT link, t0, t1, boot, t0, t1, frames, channels, run, proof FROM block WHERE boot = ?"},
	LinkVerdicts:  {"digests of verdicts", "SELECT link, t0, t1, boot, t0, t1, frames, sum FROM digest WHERE boot = ?"},
	LinkEvents:    {"alarm transitions", "SELECT link, t, t, boot, t, alarm, raised, data FROM event WHERE boot = ?"},
	LinkActs:      {"acts", "SELECT link, t, t, boot, n, t, data FROM act WHERE boot = ?"},
	LinkClock:     {"observations of the clock", "SELECT link, t, t, boot, t, trust, wall FROM clock WHERE boot = ?"},
	LinkRuns:      {"runs", "SELECT link, t0, t1, boot, n, t0, t1, ended, summary FROM run WHERE boot = ? AND ended <> ''"},
	LinkDeletions: {"deletions", "SELECT link, t0, t1, boot_now, wall_now, what, boot, t0, t1, bytes, why FROM deletion WHERE boot_now = ?"},
	LinkLife:      {"counters of other records", "SELECT link, 0, 0, record, machine, sums FROM life WHERE ? = 0"},
}

// String is the kind for people.
func (k LinkKind) String() string {
	if k >= numLinkKinds {
		return "kind " + strconv.Itoa(int(k))
	}
	return rowsOf[k].name
}

// Digest is a SHA-256.
type Digest [sha256.Size]byte

// String is the digest in hexadecimal digits.
func (d Digest) String() string { return hex.EncodeToString(d[:]) }

// Head is a place in the chain: with it, whoever noted it can tell later
// whether the record up to there is still the same.
type Head struct {
	// Pos is the link's number, Hash what it came to.
	Pos  int64
	Hash Digest
}

// String is the head as reports print it, such as "12:9f86d0...".
func (h Head) String() string { return strconv.FormatInt(h.Pos, 10) + ":" + h.Hash.String() }

// ParseHead reads what String wrote.
func ParseHead(s string) (h Head, err error) {
	pos, sum, _ := strings.Cut(strings.TrimSpace(s), ":")
	h.Pos, err = strconv.ParseInt(pos, 10, 64)
	raw, e := hex.DecodeString(sum)
	if err != nil || e != nil || len(raw) != len(h.Hash) || h.Pos < 0 {
		return Head{}, fmt.Errorf("%q is no head of a chain: copy it from the report whole, a number, a colon and %d digits", s, 2*len(h.Hash))
	}
	return Head{h.Pos, Digest(raw)}, nil
}

// link is one link as it stands in the database.
type link struct {
	pos     int64
	kind    LinkKind
	boot    uint64
	t0, t1  int64
	rows    int
	content Digest
	head    Digest
}

// after is the head that the link comes to on top of another.
func (l *link) after(before Digest) Digest {
	b := append(before[:], "headroom link 1\n"...)
	for _, x := range [...]uint64{uint64(l.pos), uint64(l.kind), l.boot, uint64(l.t0), uint64(l.t1), uint64(l.rows)} {
		b = binary.BigEndian.AppendUint64(b, x)
	}
	return sha256.Sum256(append(b, l.content[:]...))
}

// contents gathers the hashes of a link's rows.
type contents struct {
	t0, t1 int64
	rows   []Digest
}

func (c *contents) add(t0, t1 int64, row Digest) {
	if len(c.rows) == 0 {
		c.t0, c.t1 = t0, t1
	}
	c.t0, c.t1 = min(c.t0, t0), max(c.t1, t1)
	c.rows = append(c.rows, row)
}

func (c *contents) sum() Digest {
	slices.SortFunc(c.rows, func(a, b Digest) int { return bytes.Compare(a[:], b[:]) })
	h := sha256.New()
	for i := range c.rows {
		h.Write(c.rows[i][:])
	}
	return Digest(h.Sum(nil))
}

// rowHash is over the columns of a row as the database gives them.
func rowHash(columns []any) (Digest, error) {
	var b []byte
	for _, x := range columns {
		switch x := x.(type) {
		case nil:
			b = append(b, 'n')
		case int64:
			b = binary.BigEndian.AppendUint64(append(b, 'i'), uint64(x))
		case string:
			b = append(binary.BigEndian.AppendUint64(append(b, 's'), uint64(len(x))), x...)
		case []byte:
			b = append(binary.BigEndian.AppendUint64(append(b, 's'), uint64(len(x))), x...)
		default:
			return Digest{}, fmt.Errorf("a column holds a %T", x)
		}
	}
	return sha256.Sum256(b), nil
}

// linker adds links within a transaction. Rows are put in with the number that
// next gives, and end makes the link of what really came to stand there.
type linker struct {
	tx   *sql.Tx
	last Head
}

func newLinker(ctx context.Context, tx *sql.Tx) (*linker, error) {
	k, err := readLink(tx.QueryRowContext(ctx, linkColumns+"ORDER BY pos DESC LIMIT 1"))
	if err != nil {
		return nil, fmt.Errorf("cannot go on with the chain: %w", err)
	}
	return &linker{tx: tx, last: Head{k.pos, k.head}}, nil
}

const linkColumns = "SELECT pos, kind, boot, t0, t1, n, content, head FROM chain "

// readLink reads a link. That of the beginning has no head in the database,
// which can't hash: it follows from the rest.
func readLink(row interface{ Scan(...any) error }) (k link, err error) {
	var content, head []byte
	if err := row.Scan(&k.pos, &k.kind, &k.boot, &k.t0, &k.t1, &k.rows, &content, &head); err != nil {
		return k, err
	}
	if len(content) == len(k.content) && len(head) == len(k.head) { // else it is damaged, and fits nothing
		k.content, k.head = Digest(content), Digest(head)
	}
	if k.pos == 0 {
		k.head = k.after(Digest{})
	}
	return k, nil
}

func (l *linker) next() int64 { return l.last.Pos + 1 }

// end links the rows of a kind that were put in for a boot; none make no link.
func (l *linker) end(ctx context.Context, kind LinkKind, boot uint64) error {
	pos := l.next()
	var c contents
	ask := rowsOf[kind].ask + " AND link = " + strconv.FormatInt(pos, 10)
	if kind == LinkEvents { // so that the index of links is used, in a boot of a year too
		ask = strings.Replace(ask, "WHERE boot", "WHERE +boot", 1)
	}
	err := eachRow(ctx, l.tx, ask, boot, func(_, t0, t1 int64, row Digest) {
		c.add(t0, t1, row)
	})
	if err != nil || len(c.rows) == 0 {
		return err
	}
	k := link{pos: pos, kind: kind, boot: boot, t0: c.t0, t1: c.t1, rows: len(c.rows), content: c.sum()}
	k.head = k.after(l.last.Hash)
	_, err = l.tx.ExecContext(ctx, "INSERT INTO chain VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
		pos, int64(kind), int64(boot), k.t0, k.t1, k.rows, k.content[:], k.head[:])
	if err != nil {
		return fmt.Errorf("cannot go on with the chain: %w", err)
	}
	l.last = Head{pos, k.head}
	return nil
}

// querier is a database or a transaction of it.
type querier interface {
	QueryContext(ctx context.Context, ask string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, ask string, args ...any) *sql.Row
}

// eachRow reads rows in the form of rowsOf.
func eachRow(ctx context.Context, q querier, ask string, boot uint64, do func(link, t0, t1 int64, row Digest)) error {
	rows, err := q.QueryContext(ctx, ask, int64(boot))
	if err != nil {
		return fmt.Errorf("cannot read what the chain vouches for: %w", err)
	}
	defer rows.Close() // its error is that of rows.Err
	names, err := rows.Columns()
	if err != nil {
		return err
	}
	values, into := make([]any, len(names)), make([]any, len(names))
	for i := range values {
		into[i] = &values[i]
	}
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		sum, err := rowHash(values[3:])
		if err != nil {
			return err
		}
		var at [3]int64
		for i := range at {
			at[i], _ = values[i].(int64) // anything else is damage, and hashes as such
		}
		do(at[0], at[1], at[2], sum)
	}
	return rows.Err()
}

// Chain is the part of the chain that vouches for a run.
type Chain struct {
	// Record names the record: the first digits of its chain's beginning.
	Record string
	// Head is the link up to which all that is sealed of the run is vouched
	// for.
	Head Head
	// Whole is false while some of the run is only in the tail, or was
	// recorded before the chain began.
	Whole bool
}

// ErrNoChain means that nothing of a run is in the chain yet.
var ErrNoChain = errors.New("nothing of it is sealed in the chain yet")

// Chain returns the place in the chain after the last link that vouches for a
// part of a run, or of a whole boot with number 0.
func (v *view) Chain(ctx context.Context, id RunID) (c Chain, err error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return c, err
	}
	defer s.end()
	w, err := s.windowOf(ctx, id, 0, 0)
	if err != nil {
		return c, err
	}
	if c.Record, err = recordName(ctx, s); err != nil {
		return c, err
	}
	var head []byte
	const ask = "SELECT pos, head FROM chain WHERE boot = ? AND kind > 0 AND (t1 >= ? AND t0 <= ? OR kind IN (1, 2)) ORDER BY pos DESC LIMIT 1"
	err = s.QueryRowContext(ctx, ask, int64(id.Boot), int64(w.from), int64(w.to)).Scan(&c.Head.Pos, &head)
	if errors.Is(err, sql.ErrNoRows) {
		return c, fmt.Errorf("run %v: %w", id, ErrNoChain)
	}
	if err != nil {
		return c, fmt.Errorf("cannot read the chain: %w", err)
	}
	copy(c.Head.Hash[:], head)
	var loose int
	const old = "SELECT count(*) FROM block WHERE boot = ? AND t1 >= ? AND t0 <= ? AND link = 0"
	if err := s.QueryRowContext(ctx, old, int64(id.Boot), int64(w.from), int64(w.to)).Scan(&loose); err != nil {
		return c, fmt.Errorf("cannot read the chain: %w", err)
	}
	c.Whole = loose == 0 && !s.pendingIn(w)
	return c, nil
}

// pendingIn reports whether something of a window is only in the tail.
func (s *snapshot) pendingIn(w window) bool {
	if w.boot != s.live.boot {
		return false
	}
	in := func(t time.Duration) bool { return t >= w.from && t <= w.to }
	for _, t := range s.live.columns(-1 << 63).T {
		if in(time.Duration(t)) {
			return true
		}
	}
	return slices.ContainsFunc(s.live.events, func(e Event) bool { return in(e.T) }) ||
		slices.ContainsFunc(s.live.acts, func(a Act) bool { return in(a.T) })
}

// recordName is the name of a record: eight bytes of its chain's beginning.
func recordName(ctx context.Context, q querier) (string, error) {
	var content []byte
	if err := q.QueryRowContext(ctx, "SELECT content FROM chain WHERE pos = 0").Scan(&content); err != nil {
		return "", fmt.Errorf("cannot tell the record's name: %w", err)
	}
	return hex.EncodeToString(content[:min(8, len(content))]), nil
}

// RecordName tells one record from every other: sixteen random digits that it
// was given when it was made. A record that was deleted and begun anew has
// another.
func (v *view) RecordName(ctx context.Context) (string, error) { return recordName(ctx, v.db) }
