package review

import (
	"slices"
	"time"

	"headroom/daemon/store"
	"headroom/rules/frame"
)

// absence is for how long there were no frames, by why, and how often.
type absence struct {
	thinned, damaged, missing time.Duration
	count                     int
}

// trust is for how long a channel could not be used: a reading stands until the
// next frame, and a hole in the frames counts as absence. count is how many
// doubts there were, statuses are what they were, in the order of the first.
type trust struct {
	sum      time.Duration
	count    int
	statuses []frame.Status
}

// following is what the walker remembers of a channel from frame to frame.
type following struct {
	// bad is whether the last reading could not be used, until up to when that
	// stood.
	bad   bool
	until time.Duration
	// open is the last doubt, as 1 more than its index; 0 where it isn't kept.
	open int
}

func (w *walker) lost(l *store.LostError, from, to time.Duration) {
	g := Gap{From: max(l.From, from), To: l.To, Lost: true, Thinned: l.Thinned, Why: l.Why}
	if to > 0 {
		g.To = min(g.To, to)
	}
	if g.To > g.From {
		w.lostTo = g.To
		w.addGap(&g)
	}
}

// gap notes a time without frames, where the record has not told why already.
func (w *walker) gap(to time.Duration) {
	if w.lostTo <= w.last {
		w.addGap(&Gap{From: w.last, To: to, Why: "nothing was recorded"})
	}
}

func (w *walker) addGap(g *Gap) {
	switch d := g.To - g.From; {
	case g.Thinned:
		w.absent.thinned += d
	case g.Lost:
		w.absent.damaged += d
	default:
		w.absent.missing += d
	}
	if w.absent.count++; len(w.gaps) < maxGaps {
		w.gaps = append(w.gaps, *g)
	}
}

// status follows whether a channel could be used.
func (w *walker) status(c frame.Channel, raw, seen frame.Status, t time.Duration) {
	f, sum := &w.follows[c], &w.trust[c]
	if since := t - w.last; f.bad && since <= w.maxGap {
		sum.sum += since
		w.stretch(f, t)
	}
	now := raw
	if (frame.Sample{Status: raw}).OK() {
		now = seen
	}
	f.bad = raw != frame.NotFitted && !(frame.Sample{Status: now}).OK()
	if !f.bad {
		return
	}
	if !slices.Contains(sum.statuses, now) {
		sum.statuses = append(sum.statuses, now)
	}
	if sum.count > 0 && t-f.until <= bridged {
		w.stretch(f, t)
		return
	}
	f.until, f.open = t, 0
	if sum.count++; sum.count > maxDoubts {
		return
	}
	w.doubts = append(w.doubts, doubt{channel: c, from: t, to: t, status: now, raw: raw == now})
	f.open = len(w.doubts)
}

// stretch lets the last doubt of a channel last up to a time.
func (w *walker) stretch(f *following, t time.Duration) {
	if f.until = t; f.open > 0 {
		w.doubts[f.open-1].to = t
	}
}
