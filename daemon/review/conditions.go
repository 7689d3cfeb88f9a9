package review

import (
	"context"
	"errors"
	"time"

	"headroom/daemon/store"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/units"
)

// sampled are the medians that the conditions need, read in one go.
type sampled struct {
	rest, work         [frame.NumChannels]series
	restFrom, restTo   time.Duration
	workFrom, workTo   time.Duration
	hasRest, hasWorked bool
}

// look reads the frames that the conditions are told from.
func (t *teller) look(ctx context.Context, r Record) error {
	t.cond.workFrom, t.cond.workTo, t.cond.hasWorked = t.working()
	t.cond.restFrom, t.cond.restTo, t.cond.hasRest = t.resting()
	if t.cond.hasWorked {
		if err := t.gather(ctx, r, t.cond.workFrom, t.cond.workTo, &t.cond.work); err != nil {
			return err
		}
	}
	if !t.cond.hasRest {
		return nil
	}
	return t.gather(ctx, r, t.cond.restFrom, t.cond.restTo, &t.cond.rest)
}

// resting finds the last three seconds before the pump first turned.
func (t *teller) resting() (from, to time.Duration, ok bool) {
	for _, s := range t.walked.states {
		if s.state.Turning() {
			return 0, 0, false
		}
		if s.state == machine.Stopped && s.to <= t.head.Start && s.to-s.from >= 3*time.Second {
			from, to, ok = s.to-3*time.Second, s.to-1, true
		}
		if s.to >= t.head.Start {
			break
		}
	}
	return from, to, ok
}

func (t *teller) gather(ctx context.Context, r Record, from, to time.Duration, into *[frame.NumChannels]series) error {
	for k, err := range r.Frames(ctx, store.RunID{Boot: t.head.ID.Boot}, max(from, 1), to) {
		var lost *store.LostError
		if errors.As(err, &lost) {
			continue
		}
		if err != nil {
			return err
		}
		for ch := range into {
			into[ch].add(k.T, k.Frame.Samples[ch])
		}
	}
	return ctx.Err()
}

// level is the evidence of a median; ok is false without samples.
func level(s *series, ch frame.Channel, from, to time.Duration) (Evidence, bool) {
	v, n := s.median(from, to)
	return Evidence{Basis: OnSamples, Channel: ch, From: from, To: to, Figure: Median, Value: v, HasValue: true, Count: n}, n > 0
}

func (t *teller) tellConditions() {
	c := &t.cond
	if c.hasRest {
		if e, ok := level(&c.rest[frame.InletPressure], frame.InletPressure, c.restFrom, c.restTo); ok {
			t.add(c.restFrom, c.restTo, say(KindConditions, "Before the start the inlet stood at ").shown(units.Pressure, e).words("."))
		}
	}
	if !c.hasWorked {
		return
	}
	s, any := say(KindConditions, "Once it worked: "), false
	for _, x := range conditions {
		e, ok := level(&c.work[x.ch], x.ch, c.workFrom, c.workTo)
		if !ok {
			continue
		}
		if any {
			s.words(", ")
		}
		any = true
		s.words(x.words).shown(x.ch.Quantity(), e)
	}
	if any {
		t.add(c.workFrom, c.workTo, s.words("."))
	}
}
