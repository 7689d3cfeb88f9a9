package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Break is a place where the record and its chain don't fit together.
type Break struct {
	// Pos is the link, and Kind what it vouches for.
	Pos  int64
	Kind LinkKind
	// Boot and the span of time that is in doubt; both times are 0 where all
	// of the boot is.
	Boot     uint64
	From, To time.Duration
	// Why in words.
	Why string
}

// String is the break for people, with its interval.
func (b *Break) String() string {
	where := fmt.Sprintf("boot %d", b.Boot)
	if b.From != 0 || b.To != 0 {
		where += fmt.Sprintf(" from %v to %v", b.From.Round(time.Millisecond), b.To.Round(time.Millisecond))
	}
	return fmt.Sprintf("link %d, %v of %s: %s", b.Pos, b.Kind, where, b.Why)
}

// Verified is what the check of the whole chain came to.
type Verified struct {
	// Record is the record's name, Head the newest link.
	Record string
	Head   Head
	// Rows that the chain vouches for, and Before those from before it began.
	Rows, Before int
	// Thinned blocks are there as hashes only.
	Thinned int
	// Breaks in the order of the links; no more than 1000 are gathered.
	Breaks []Break
}

// OK reports whether all of it fits.
func (v Verified) OK() bool { return len(v.Breaks) == 0 }

const maxBreaks = 1000

// verifier goes through the chain once, and through each boot's rows.
type verifier struct {
	v     *view
	out   Verified
	links []link
	old   uint64 // the last boot from before the chain began
}

// VerifyChain holds the whole record against its chain: each link against the
// one before, each row against its link, each block against its hash. It reads
// all frames, which may take minutes. What goes on meanwhile doesn't disturb
// it; what only the tail holds is not in the chain yet.
func (v *view) VerifyChain(ctx context.Context) (Verified, error) {
	f := verifier{v: v}
	if err := f.load(ctx); err != nil {
		return f.out, fmt.Errorf("cannot read the chain: %w", err)
	}
	if len(f.links) == 0 || f.links[0].pos != 0 {
		f.broken(Break{Why: "the beginning of the chain is missing"})
	} else {
		f.old = f.links[0].boot
		f.out.Record = f.links[0].content.String()[:16]
	}
	f.heads()
	boots, err := bootsOf(ctx, v.db, "SELECT boot FROM boot UNION SELECT boot FROM chain UNION SELECT 0 ORDER BY 1")
	if err != nil {
		return f.out, fmt.Errorf("cannot list the boots: %w", err)
	}
	for _, boot := range boots {
		if err := f.boot(ctx, uint64(boot)); err != nil {
			return f.out, fmt.Errorf("cannot verify boot %d: %w", boot, err)
		}
	}
	return f.out, nil
}

func (f *verifier) broken(b Break) {
	if len(f.out.Breaks) < maxBreaks {
		f.out.Breaks = append(f.out.Breaks, b)
	}
}

// doubt makes a break of a link.
func (f *verifier) doubt(k *link, why string) {
	f.broken(Break{Pos: k.pos, Kind: k.kind, Boot: k.boot, From: time.Duration(k.t0), To: time.Duration(k.t1), Why: why})
}

func (f *verifier) load(ctx context.Context) error {
	rows, err := f.v.db.QueryContext(ctx, linkColumns+"ORDER BY pos")
	if err != nil {
		return err
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		k, err := readLink(rows)
		if err != nil {
			return err
		}
		f.links = append(f.links, k)
	}
	return rows.Err()
}

// heads holds each link against the one before.
func (f *verifier) heads() {
	for i := range f.links {
		k := &f.links[i]
		f.out.Head = Head{k.pos, k.head}
		if i == 0 {
			continue
		}
		before := &f.links[i-1]
		switch {
		case before.pos+1 != k.pos:
			f.broken(Break{Pos: before.pos + 1, Kind: k.kind, Boot: before.boot, From: time.Duration(before.t1), To: time.Duration(before.t1),
				Why: fmt.Sprintf("links %d to %d are missing; the next one is of boot %d at %v", before.pos+1, k.pos-1, k.boot, time.Duration(k.t0).Round(time.Millisecond))})
		case k.after(before.head) != k.head:
			f.doubt(k, "the link doesn't follow from the one before")
		}
	}
}

// boot holds the rows of a boot against the links that vouch for them.
func (f *verifier) boot(ctx context.Context, boot uint64) error {
	deleted, err := f.v.deletedBoot(ctx, boot)
	if err != nil {
		return err
	}
	for kind := LinkBoot; kind < numLinkKinds; kind++ {
		// What a running program seals meanwhile has newer links: passed over.
		found := map[int64]*contents{}
		err := eachRow(ctx, f.v.db, rowsOf[kind].ask, boot, func(link, t0, t1 int64, row Digest) {
			if found[link] == nil {
				found[link] = &contents{}
			}
			found[link].add(t0, t1, row)
		})
		if err != nil {
			return err
		}
		if err := f.compare(ctx, kind, boot, found, deleted); err != nil {
			return err
		}
	}
	return f.blocks(ctx, boot)
}

// goesWithBoot are the kinds whose rows are deleted with an old boot.
func goesWithBoot(kind LinkKind) bool {
	switch kind {
	case LinkFrames, LinkVerdicts, LinkEvents, LinkActs, LinkClock, LinkRuns:
		return true
	}
	return false
}

// compare holds what was found of a kind against the links of it.
func (f *verifier) compare(ctx context.Context, kind LinkKind, boot uint64, found map[int64]*contents, deleted bool) error {
	for i := range f.links {
		k := &f.links[i]
		if k.kind != kind || k.boot != boot {
			continue
		}
		c := found[k.pos]
		delete(found, k.pos)
		switch {
		case c == nil && deleted && goesWithBoot(kind):
		case c == nil:
			f.doubt(k, "what it vouches for is gone, and no deletion says so")
		case len(c.rows) != k.rows:
			f.doubt(k, fmt.Sprintf("it vouches for %d, and there are %d", k.rows, len(c.rows)))
		case c.sum() != k.content:
			f.doubt(k, "what is there is not what it vouches for")
		default:
			f.out.Rows += len(c.rows)
		}
	}
	if c := found[0]; c != nil && boot <= f.old {
		f.out.Before += len(c.rows)
		delete(found, 0)
	}
	for _, pos := range slices.Sorted(maps.Keys(found)) {
		if pos > f.out.Head.Pos { // newer than the links that were read?
			_, err := readLink(f.v.db.QueryRowContext(ctx, linkColumns+"WHERE pos = ?", pos))
			if err == nil {
				continue
			}
			if !errors.Is(err, sql.ErrNoRows) {
				return err
			}
		}
		c := found[pos]
		f.broken(Break{Pos: pos, Kind: kind, Boot: boot, From: time.Duration(c.t0), To: time.Duration(c.t1),
			Why: fmt.Sprintf("no link vouches for %d of them", len(c.rows))})
	}
	return nil
}

// deletedBoot reports whether a deletion says that a boot had to go.
func (v *view) deletedBoot(ctx context.Context, boot uint64) (is bool, err error) {
	err = v.db.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM deletion WHERE what = 'boot' AND boot = ?)", int64(boot)).Scan(&is)
	return is, err
}

// proof is a block with what is left of it.
type proof struct {
	blockRow
	t0, t1, link int64
	hashes       []byte
}

// blocks holds frames and their buckets against the hashes in their rows.
func (f *verifier) blocks(ctx context.Context, boot uint64) error {
	list, err := f.v.proofs(ctx, boot)
	if err != nil {
		return err
	}
	for i := range list {
		p := &list[i]
		thinned, why, err := f.v.provenBlock(ctx, boot, p)
		if err != nil {
			return err
		}
		if thinned {
			f.out.Thinned++
		}
		if why != "" {
			f.broken(Break{Pos: p.link, Kind: LinkFrames, Boot: boot, From: time.Duration(p.t0), To: time.Duration(p.t1), Why: why})
		}
	}
	return nil
}

func (v *view) proofs(ctx context.Context, boot uint64) (list []proof, err error) {
	rows, err := v.db.QueryContext(ctx, "SELECT id, t0, t1, frames, channels, sum, link, proof FROM block WHERE boot = ? AND link > 0 ORDER BY t0", int64(boot))
	if err != nil {
		return nil, err
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		p := proof{blockRow: blockRow{blockMeta: blockMeta{Boot: boot}}}
		var frames, channels, check any
		if err := rows.Scan(&p.id, &p.t0, &p.t1, &frames, &channels, &check, &p.link, &p.hashes); err != nil {
			return nil, err
		}
		// Damage can make anything of a number; no number fits no checksum.
		n, _ := frames.(int64)
		c, _ := channels.(int64)
		p.check, _ = check.(int64)
		p.T0, p.T1, p.Frames, p.Channels = p.t0, p.t1, int(n), uint64(c)
		list = append(list, p)
	}
	return list, rows.Err()
}

// provenBlock compares one block; why is empty where all fits.
func (v *view) provenBlock(ctx context.Context, boot uint64, p *proof) (thinned bool, why string, err error) {
	if len(p.hashes) != 2*sha256.Size {
		return false, "its hashes are damaged", nil
	}
	var bad []string
	for i, part := range [...]struct{ what, ask, deletion string }{
		{"the frames", "SELECT data FROM block_data WHERE block = ?", "frames"},
		{"the buckets beside the frames", "SELECT data FROM brief WHERE block = ?", "buckets"},
	} {
		var data []byte
		err := v.db.QueryRowContext(ctx, part.ask, p.id).Scan(&data)
		if errors.Is(err, sql.ErrNoRows) {
			noted, err := v.deletionNoted(ctx, part.deletion, boot, p)
			if err != nil {
				return false, "", err
			}
			thinned = thinned || noted && i == 0
			if !noted {
				bad = append(bad, part.what+" are gone, and no deletion says so")
			}
			continue
		}
		if ctx.Err() != nil {
			return false, "", ctx.Err()
		}
		sum := sha256.Sum256(data)
		if err != nil {
			bad = append(bad, part.what+" can't be read: "+err.Error())
		} else if !bytes.Equal(sum[:], p.hashes[i*sha256.Size:][:sha256.Size]) {
			bad = append(bad, part.what+" are not what was sealed")
		} else if i == 0 && p.sum(data) != p.check {
			// The chain doesn't cover the checksum, and a reader goes by it.
			bad = append(bad, part.what+" are what was sealed, but their checksum is damaged and they aren't given")
		}
	}
	return thinned, strings.Join(bad, ", "), nil
}

// deletionNoted reports whether a deletion covers a block.
func (v *view) deletionNoted(ctx context.Context, what string, boot uint64, p *proof) (is bool, err error) {
	const ask = "SELECT EXISTS (SELECT 1 FROM deletion WHERE boot = ? AND (what = 'boot' OR what = ? AND t0 <= ? AND t1 >= ?))"
	err = v.db.QueryRowContext(ctx, ask, int64(boot), what, p.t0, p.t1).Scan(&is)
	return is, err
}

// ErrOtherRecord is the error of Matches for a head that is not one of this
// record's.
var ErrOtherRecord = errors.New("the head is not one of this record")

// Matches looks for a head that was noted elsewhere, as on a report. It says
// nothing of what the links vouch for: VerifyChain does.
func (v *view) Matches(ctx context.Context, h Head) error {
	k, err := readLink(v.db.QueryRowContext(ctx, linkColumns+"WHERE pos = ?", h.Pos))
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return fmt.Errorf("%w: it has no link %d", ErrOtherRecord, h.Pos)
	case err != nil:
		return fmt.Errorf("cannot read the chain: %w", err)
	case k.head != h.Hash:
		return fmt.Errorf("%w: link %d has another hash; it is another record, or this one was changed at or before that link", ErrOtherRecord, h.Pos)
	}
	return nil
}
