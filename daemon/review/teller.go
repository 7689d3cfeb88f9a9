package review

import (
	"cmp"
	"context"
	"slices"
	"time"
)

// teller gathers the sentences of one account.
type teller struct {
	*span
	walked   *walked
	lives    []AlarmLife
	episodes []episode
	// unsearched counts the episodes around which no change was looked for.
	unsearched int
	cond       sampled
	out        []Sentence
	limits     []Sentence
}

// Tell makes the account of a run, or with a number of 0 of a whole boot or the
// part of it that the options name. It reads the frames once as a stream, and
// those around alarms once more. The error says what could not be read; an
// account is made of whatever the record holds, and says what is missing.
func Tell(ctx context.Context, r Record, id RunID, opt Options) (*Account, error) {
	s, err := open(ctx, r, id, opt)
	if err != nil {
		return nil, err
	}
	t := &teller{span: s}
	if t.walked, err = walk(ctx, r, id.Boot, max(s.head.From, 0), s.head.To, s.cfg, s.moments()); err != nil {
		return nil, err
	}
	t.settle()
	t.lives = livesOf(s.events, s.acts)
	t.episodes = episodesOf(t.lives)
	if err := t.search(ctx, r); err != nil {
		return nil, err
	}
	if err := t.look(ctx, r); err != nil {
		return nil, err
	}
	if err := t.tell(ctx, r); err != nil {
		return nil, err
	}
	return &Account{Head: s.head, Sentences: t.out, CannotTell: t.limits, Summary: t.summary()}, nil
}

// moments are the times of what is recorded beside the frames.
func (s *span) moments() []time.Duration {
	out := []time.Duration{s.head.Start, s.head.End}
	for i := range s.events {
		out = append(out, s.events[i].T)
	}
	return out
}

// settle puts the ends of a span where the frames end.
func (t *teller) settle() {
	h := &t.head
	if t.walked.frames == 0 {
		return
	}
	if h.ID.N > 0 {
		h.From = max(h.From, min(h.Start, t.walked.first))
		h.To = min(h.To, max(h.End, t.walked.last))
		return
	}
	if h.From == 0 {
		h.From = t.walked.first
	}
	if h.To == 0 {
		h.To = t.walked.last
	}
	h.Start, h.End = h.From, h.To
}

// add takes a sentence about a span of time.
func (t *teller) add(from, to time.Duration, s *telling) {
	s.From, s.To = from, max(from, to)
	t.out = append(t.out, s.Sentence)
}

// limit takes what the record can not tell.
func (t *teller) limit(from, to time.Duration, s *telling) {
	s.From, s.To = from, max(from, to)
	t.limits = append(t.limits, s.Sentence)
}

func (t *teller) tell(ctx context.Context, r Record) error {
	t.tellStart()
	t.tellStates()
	t.tellEpisodes()
	t.tellSensors()
	t.tellActs()
	t.tellGaps()
	t.tellClock()
	t.tellStop()
	slices.SortStableFunc(t.out, func(a, b Sentence) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(rank(a.Kind), rank(b.Kind)))
	})
	t.tellExposures()
	if err := t.tellLimits(ctx, r); err != nil {
		return err
	}
	for i := range t.out {
		t.out[i].N = i + 1
	}
	for i := range t.limits {
		t.limits[i].N = len(t.out) + i + 1
	}
	return nil
}

// rank orders sentences of one moment: what happened before what was said of
// it, and what was said before what was done.
func rank(k Kind) int {
	order := []Kind{
		KindSwitch, KindStart, KindClock, KindGap, KindState, KindConditions, KindChange, KindSensor,
		KindAlarm, KindConsequence, KindRanOn, KindCleared, KindAct, KindStop,
	}
	return slices.Index(order, k)
}
