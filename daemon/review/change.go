package review

import (
	"math"
	"time"

	"headroom/rules/frame"
)

// Change is how a channel went from one level to another.
type Change struct {
	Channel frame.Channel
	// Before is the median from BeforeFrom to BeforeTo, the level it left.
	Before               float64
	BeforeFrom, BeforeTo time.Duration
	BeforeCount          int
	// Left is the last moment at that level, Reached the first one at which
	// nine tenths of the way were gone.
	Left, Reached time.Duration
	// After is the median from AfterFrom to AfterTo, the farthest that it went.
	After              float64
	AfterFrom, AfterTo time.Duration
	AfterCount         int
}

// Rose reports whether the value went up.
func (c *Change) Rose() bool { return c.After > c.Before }

// within is the span of time in which a change is looked for.
type within struct {
	// from is the earliest that counts, at is the alarm, to is the latest.
	from, at, to time.Duration
}

// change looks for the change of a channel that belongs to an alarm at
// the time at, among samples from from to to:
//
//  1. The level now is the median of the second before the alarm.
//  2. Going back, the latest steady stretch is taken that lies off that level
//     by what is worth telling of the channel; steady means that its halves
//     agree to a quarter of that. From there it goes on back for as long as
//     earlier stretches lie still farther off: so a slow slide is told from its
//     beginning.
//  3. A cumulative sum (Cusum) against that stretch, with a quarter of what is
//     worth telling as slack, finds when the value left it.
//  4. The median of a second is followed on, at least to the alarm, until it
//     stands still or has come back by a fifth of the way, or to the end of
//     the span; the farthest point is the new level, and the
//     change took until nine tenths of the way were gone (the 90 % point of
//     the transition in the sense of IEC 60469, from memory).
//
// ok is false where nothing changed by so much, or where there are too few
// samples to say.
func (s *series) change(ch frame.Channel, w within) (c Change, ok bool) {
	c.Channel = ch
	now, n := s.median(w.at-2*around, w.at)
	if n == 0 {
		return c, false
	}
	if ok = s.levelBefore(&c, now, w); !ok {
		return c, false
	}
	up := now > c.Before
	least := worths[ch].from(c.Before)
	i, end := s.at(c.BeforeFrom), s.at(w.to+1)
	left, ok := s.leaves(i, end, c.Before, least/4, least, up)
	if !ok {
		return c, false
	}
	if c.Left = s.t[left]; c.Left < c.BeforeFrom+worths[ch].steadyFor()/4 {
		return c, false // it never was at that level for long enough to say so
	}
	if c.Left < c.BeforeTo {
		c.BeforeTo = c.Left // it left within the stretch's second half
		c.Before, c.BeforeCount = s.median(c.BeforeFrom, c.BeforeTo)
	}
	s.follow(&c, w, up)
	if c.AfterCount == 0 || math.Abs(c.After-c.Before) < least || (c.After > c.Before) != up {
		return c, false
	}
	return c, s.arrive(&c, up)
}

// levelBefore fills in the steady level that the value came from.
func (s *series) levelBefore(c *Change, now float64, w within) bool {
	length := worths[c.Channel].steadyFor()
	found := false
	away := func(v float64) float64 { return math.Abs(v - now) }
	for end := w.at; end-length >= max(w.from, w.at-lookBack); end -= length / 2 {
		level, n, steady := s.steady(c.Channel, end-length, end)
		off := away(level)
		switch {
		case n == 0:
			return found // no bridge over what nobody saw
		case !steady || off < worths[c.Channel].from(level):
			continue
		case found && ((level > now) != (c.Before > now) || off < away(c.Before)+worths[c.Channel].from(level)/8):
			if c.BeforeFrom-end > 15*length {
				return true // it has long been at its level
			}
			continue
		}
		found = true
		c.Before, c.BeforeCount, c.BeforeFrom, c.BeforeTo = level, n, end-length, end
	}
	return found
}

// steady returns the median of a stretch, and whether its halves agree.
func (s *series) steady(ch frame.Channel, a, b time.Duration) (level float64, n int, steady bool) {
	half := a + (b-a)/2
	first, n1 := s.median(a, half)
	second, n2 := s.median(half, b)
	if n1 == 0 || n2 == 0 {
		return 0, 0, false
	}
	level, n = s.median(a, b)
	return level, n, math.Abs(first-second) <= worths[ch].from(level)/4
}

// follow finds the farthest that the value went.
func (s *series) follow(c *Change, w within, up bool) {
	sign := 1.0
	if !up {
		sign = -1
	}
	// moved is when it last went on by what counts, from that level.
	moved, from := c.Left, c.Before
	for m := c.Left + around; m+around <= w.to; m += around / 2 {
		v, n := s.median(m-around, m+around)
		if n == 0 {
			return // what came after a hole is another story
		}
		if sign*(v-from) > worths[c.Channel].from(c.Before)/8 {
			moved, from = m, v
		}
		if c.AfterCount == 0 || sign*(v-c.After) > 0 {
			c.After, c.AfterCount, c.AfterFrom, c.AfterTo = v, n, m-around, m+around
		}
		way := math.Abs(c.After - c.Before)
		if m > w.at && (m-moved > worths[c.Channel].steadyFor() || math.Abs(v-c.After) > 0.2*way) {
			return
		}
	}
}

// arrive fills in when nine tenths of the way were gone.
func (s *series) arrive(c *Change, up bool) bool {
	goal := c.Before + 0.9*(c.After-c.Before)
	for i := s.at(c.Left + 1); i < len(s.t) && s.t[i] <= c.AfterTo; i++ {
		if (up && s.y[i] >= goal) || (!up && s.y[i] <= goal) {
			c.Reached = s.t[i]
			return true
		}
	}
	return false
}
