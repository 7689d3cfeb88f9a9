package review

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"headroom/daemon/store"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

const (
	// together is how close alarms must follow one another to be told as one
	// event with its consequences.
	together = 10 * time.Second
	// settling is the time after a change of state that is no level yet.
	settling = 2 * time.Second
	// shortState is a state too short to find a level in: then the search goes
	// back into the one before.
	shortState = 15 * time.Second
	// beforeShort is how far back it goes then.
	beforeShort = time.Minute
	// maxEpisodes are searched for changes; the alarms of further ones are told
	// without. It bounds the work on a record full of alarms.
	maxEpisodes = 30
)

// episode is a root alarm with those that came close to it. Indices are into
// the lives.
type episode struct {
	root    int
	others  []int
	changes []Change
}

// episodesOf groups rules' alarms: each one that stands under no other begins
// an episode, unless one began just before.
func episodesOf(lives []AlarmLife) (out []episode) {
	for i := range lives {
		if _, sensor := lives[i].Sensor(); sensor {
			continue
		}
		if n := len(out); n > 0 && lives[i].Raised-lives[out[n-1].root].Raised <= together {
			out[n-1].others = append(out[n-1].others, i)
			continue
		}
		if n := len(out); n > 0 && lives[i].Under != "" && lives[i].Raised-lives[out[n-1].root].Raised <= lookBack {
			out[n-1].others = append(out[n-1].others, i)
			continue
		}
		out = append(out, episode{root: i})
	}
	for i := range out {
		out[i].raiseRoot(lives)
	}
	return out
}

// raiseRoot makes that alarm the root which the others stand under, where all
// came at one moment and the order among them means nothing.
func (e *episode) raiseRoot(lives []AlarmLife) {
	for k, i := range e.others {
		root := &lives[e.root]
		if root.Under == lives[i].Name && lives[i].Raised == root.Raised {
			e.root, e.others[k] = i, e.root
		}
	}
	slices.Sort(e.others)
}

// search fills in what changed around the episodes.
func (t *teller) search(ctx context.Context, r Record) error {
	for i := range t.episodes {
		if i == maxEpisodes {
			t.unsearched = len(t.episodes) - i
			return nil
		}
		if err := t.searchOne(ctx, r, &t.episodes[i]); err != nil {
			return err
		}
	}
	return nil
}

func (t *teller) searchOne(ctx context.Context, r Record, e *episode) error {
	root := &t.lives[e.root]
	slow, fast, whole := t.windows(root)
	ours := t.related(e)
	all, err := t.load(ctx, r, slow.from, slow.to)
	if err != nil {
		return err
	}
	for _, ch := range searched() {
		w := fast
		if worths[ch].slow {
			w = slow
		}
		if !whole && !slices.Contains(ours, ch) {
			continue // a start moves everything: only what the alarm is about
		}
		if c, ok := all[ch].cut(w).change(ch, w); ok && !t.told(&c) {
			e.changes = append(e.changes, c)
		}
	}
	slices.SortStableFunc(e.changes, func(a, b Change) int { return int(a.Left/time.Millisecond) - int(b.Left/time.Millisecond) })
	return nil
}

// windows bound the search: slow quantities go on through changes of the
// machine's state, fast ones are compared within one state. whole is false
// where that state is too short.
func (t *teller) windows(root *AlarmLife) (slow, fast within, whole bool) {
	at := root.Raised
	slow = within{from: max(at-lookBack, t.head.From), at: at, to: min(at+lookOn, t.head.To)}
	fast = slow
	st := t.walked.stateAt(at)
	whole = !t.walked.known || at-st.from >= shortState || !st.state.Turning()
	if begins := st.from + settling; at-begins >= shortState-settling {
		fast.from = max(fast.from, begins)
	} else {
		fast.from = max(fast.from, at-beforeShort)
	}
	if st.state.Turning() && st.to > at {
		fast.to = min(fast.to, st.to)
	}
	return slow, fast, whole
}

// told reports whether a change was told with an earlier episode.
func (t *teller) told(c *Change) bool {
	for i := range t.episodes {
		for k := range t.episodes[i].changes {
			o := &t.episodes[i].changes[k]
			if o.Channel == c.Channel && c.Left <= o.AfterTo && o.Left <= c.AfterTo {
				return true
			}
		}
	}
	return false
}

// load reads the searched channels of a span. It breaks off, from the beginning,
// at every hole: what lies before one is no level for what lies behind.
func (t *teller) load(ctx context.Context, r Record, from, to time.Duration) (all [frame.NumChannels]series, err error) {
	last := from
	for k, err := range r.Frames(ctx, store.RunID{Boot: t.head.ID.Boot}, max(from, 1), max(to, 1)) {
		var lost *store.LostError
		if errors.As(err, &lost) {
			all = [frame.NumChannels]series{}
			continue
		}
		if err != nil {
			return all, fmt.Errorf("cannot read the frames around an alarm: %w", err)
		}
		if k.T <= last && k.T != from {
			continue
		}
		if k.T-last > breath {
			all = [frame.NumChannels]series{}
		}
		last = k.T
		for _, ch := range searched() {
			all[ch].add(k.T, k.Frame.Samples[ch])
		}
	}
	return all, ctx.Err()
}

// cut returns the part of a series in a window.
func (s *series) cut(w within) *series {
	a, b := s.at(w.from), s.at(w.to+1)
	return &series{s.t[a:b], s.y[a:b]}
}

// related are the channels that an episode's alarms are about.
func (t *teller) related(e *episode) []frame.Channel {
	out := slices.Clone(related(&t.lives[e.root]))
	for _, i := range e.others {
		out = append(out, related(&t.lives[i])...)
	}
	return out
}

// related are the channels that an alarm's evidence shows.
func related(a *AlarmLife) []frame.Channel {
	if r, ok := a.Rule(); ok {
		return Channels(r)
	}
	if c, ok := a.Sensor(); ok {
		return []frame.Channel{c}
	}
	return nil
}

// quantityOf is the quantity of an alarm's value.
func quantityOf(a *AlarmLife) (r engine.RuleID, ok bool) {
	r, ok = a.Rule()
	return r, ok && a.HasValue
}
