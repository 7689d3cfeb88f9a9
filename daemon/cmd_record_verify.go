package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"headroom/daemon/replay"
	"headroom/daemon/rerun"
	"headroom/daemon/store"
	"headroom/rules/engine"
)

type verifyFlags struct {
	folder, match string
	replay        bool
	boot          uint64
}

// errNotWhole ends verify where something is damaged or was changed; it was
// printed already.
var errNotWhole = errors.New("the record is not whole")

// recordVerify checks the record against itself, and says what that proves.
func recordVerify(ctx context.Context, args []string, io stdio) error {
	var o verifyFlags
	fs := flags("record verify", "[flags]", io)
	fs.StringVar(&o.folder, "record", "", "the record's `folder`; without it the default one")
	fs.StringVar(&o.match, "match", "", "also look whether the `head` that a report prints, 12:9f86..., is one of this record")
	fs.BoolVar(&o.replay, "replay", false, "also judge every frame anew, and compare with the digests over the verdicts of then")
	fs.Uint64Var(&o.boot, "boot", 0, "with -replay only this boot's `number`; 0 for all")
	if err := parse(fs, args); err != nil {
		return err
	}
	return withRecord(o.folder, func(_ string, r *store.Reader) error {
		whole, err := o.verify(ctx, r, io)
		if err == nil && !whole {
			err = errNotWhole
		}
		return err
	})
}

func (o *verifyFlags) verify(ctx context.Context, r *store.Reader, io stdio) (whole bool, err error) {
	f, err := r.Check(ctx)
	if err != nil {
		return false, err
	}
	tellFinding(&f, io)
	if err := tellEarlier(ctx, r, io); err != nil {
		return false, err
	}
	v, err := r.VerifyChain(ctx)
	if err != nil {
		return false, err
	}
	tellVerified(&v, io)
	whole = f.OK() && v.OK()
	if o.match != "" {
		matches, err := matchHead(ctx, r, o.match, io)
		if err != nil {
			return false, err
		}
		whole = whole && matches
	}
	if o.replay {
		same, err := o.replayAll(ctx, r, io)
		if err != nil {
			return false, err
		}
		whole = whole && same
	}
	fmt.Fprint(io.out, "\n"+whatItProves)
	return whole, nil
}

// whatItProves stands under every verification, so that nobody takes it for
// more.
const whatItProves = `What this proves: nothing in the middle of the record was changed, added or
taken out unnoticed since its head was noted elsewhere, as on a printed report;
a report whose head matches belongs to this record.
What it doesn't: whoever has the device can write a whole new record with a new
chain, so a head that nobody noted proves nothing about yesterday. It doesn't
prove that the clock was right, nor that a sensor told the truth. Counters of
the machine's life, coarse buckets, and what is not sealed yet are not in the
chain.
`

// tellFinding says what is damaged, with its interval.
func tellFinding(f *store.Finding, io stdio) {
	fmt.Fprintf(io.out, "%s of frames whole, %d thinned to make room\n", counted(f.Blocks, "block"), f.Thinned)
	for i := range f.Lost {
		fmt.Fprintf(io.out, "LOST: %v\n", &f.Lost[i])
	}
	for _, p := range f.Problems {
		fmt.Fprintf(io.out, "DAMAGED: %s\n", p)
	}
}

// tellEarlier says what was lost to damage before, and is written down.
func tellEarlier(ctx context.Context, r *store.Reader, io stdio) error {
	list, err := r.Deletions(ctx)
	for i := range list {
		d := &list[i]
		if d.What != store.DeletedByDamage {
			continue
		}
		span := ""
		if d.Boot != 0 {
			span = fmt.Sprintf("boot %d from %v to %v, ", d.Boot, d.From, d.To)
		}
		fmt.Fprintf(io.out, "LOST EARLIER: %sfound %s in boot %d: %s\n", span, started(d.WallNow), d.BootNow, d.Why)
	}
	return err
}

// framesLost is how the daemon notes frames that found no place in the record.
const framesLost = "frames_lost"

// mostBreaks are printed; the first one matters.
const mostBreaks = 10

func tellVerified(v *store.Verified, io stdio) {
	fmt.Fprintf(io.out, "record %s, chain of %s, head %v\n", v.Record, counted(int(v.Head.Pos), "link"), v.Head)
	if v.Before > 0 {
		fmt.Fprintf(io.out, "%s from before the chain began: nothing vouches for them\n", counted(v.Before, "row"))
	}
	if v.OK() {
		fmt.Fprintf(io.out, "CHAIN WHOLE: it vouches for %s\n", counted(v.Rows, "row"))
		return
	}
	for i := range v.Breaks {
		switch {
		case i == 0:
			fmt.Fprintf(io.out, "CHAIN BROKEN, first at %v\n", &v.Breaks[i])
		case i < mostBreaks:
			fmt.Fprintf(io.out, "  also at %v\n", &v.Breaks[i])
		}
	}
	if more := len(v.Breaks) - mostBreaks; more > 0 {
		fmt.Fprintf(io.out, "  and at %s more\n", counted(more, "place"))
	}
}

// matchHead looks for a head that was noted.
func matchHead(ctx context.Context, r *store.Reader, text string, io stdio) (bool, error) {
	h, err := store.ParseHead(text)
	if err != nil {
		return false, err
	}
	err = r.Matches(ctx, h)
	if errors.Is(err, store.ErrOtherRecord) {
		fmt.Fprintf(io.out, "NO MATCH: %v\n", err)
		return false, nil
	}
	if err != nil {
		return false, err
	}
	fmt.Fprintf(io.out, "MATCH: the head is link %d of this record\n", h.Pos)
	return true, nil
}

// replayAll judges boots anew.
func (o *verifyFlags) replayAll(ctx context.Context, r *store.Reader, io stdio) (same bool, err error) {
	boots, err := r.Boots(ctx)
	if err != nil {
		return false, err
	}
	same = true
	for i := range boots {
		if o.boot != 0 && boots[i].Boot != o.boot {
			continue
		}
		one, err := replayBoot(ctx, r, &boots[i], io)
		if err != nil {
			return false, err
		}
		same = same && one
	}
	return same, nil
}

func replayBoot(ctx context.Context, r *store.Reader, boot *store.Info, io stdio) (same bool, err error) {
	digests, err := r.Digests(ctx, boot.Boot)
	if err != nil {
		return false, err
	}
	if len(digests) == 0 {
		fmt.Fprintf(io.out, "boot %d: no digests of verdicts to compare with\n", boot.Boot)
		return true, nil
	}
	m := store.NewMatcher(digests)
	res, err := rerun.Run(ctx, r, store.RunID{Boot: boot.Boot}, rerun.Options{Replay: replay.Options{
		OnVerdicts: func(v *engine.Verdicts, _ time.Time) { m.Note(v) },
	}})
	if err != nil && ctx.Err() == nil {
		fmt.Fprintf(io.out, "boot %d: NOT COMPARED: %v\n", boot.Boot, err)
		return false, nil
	}
	if err != nil {
		return false, err
	}
	match := m.End()
	why, err := whyOther(ctx, r, boot, len(res.Lost))
	if err != nil {
		return false, err
	}
	return tellMatch(boot, &match, why, io), nil
}

// tellMatch says how a boot's replay compares; why names a reason that is known
// for other verdicts, empty for none.
func tellMatch(boot *store.Info, m *store.Match, why string, io stdio) (same bool) {
	compared := fmt.Sprintf("%s compared", counted(m.Frames, "frame"))
	if n := len(m.Missing); n > 0 {
		compared += fmt.Sprintf(", of %s not all frames are there", counted(n, "span"))
	}
	if m.Uncovered > 0 {
		compared += fmt.Sprintf(", %s covered by no digest", counted(m.Uncovered, "frame"))
	}
	if len(m.Different) == 0 {
		fmt.Fprintf(io.out, "boot %d: the same verdicts to the last bit; %s\n", boot.Boot, compared)
		return true
	}
	d := &m.Different[0]
	fmt.Fprintf(io.out, "boot %d: OTHER VERDICTS in %d of %s, first between %v and %v; %s\n", boot.Boot, len(m.Different),
		counted(len(m.Different)+len(m.Same), "span"), d.From, d.To, compared)
	if why == "" {
		return false
	}
	fmt.Fprintf(io.out, "  that may be because %s\n", why)
	return true
}

// whyOther names what makes other verdicts than those of then likely.
func whyOther(ctx context.Context, r *store.Reader, boot *store.Info, lost int) (why string, err error) {
	if boot.Software != versionString() {
		return fmt.Sprintf("it was recorded by version %s, and this is %s", boot.Software, versionString()), nil
	}
	if lost > 0 {
		return "frames are missing that the engine had seen", nil
	}
	acts, err := r.Acts(ctx, store.RunID{Boot: boot.Boot})
	for i := range acts {
		if acts[i].What == framesLost {
			return acts[i].Text, nil
		}
	}
	return "", err
}
