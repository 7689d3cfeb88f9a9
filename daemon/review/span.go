package review

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"headroom/daemon/config"
	"headroom/daemon/store"
)

// Options of an account. The zero value tells a whole run.
type Options struct {
	// From and To bound what is told of a whole boot (a RunID with number 0),
	// in monotonic time; 0 for its beginning and its end.
	From, To time.Duration
}

// span is what an account is about, with all that is read but frames.
type span struct {
	head   Head
	run    store.Run
	info   store.Info
	cfg    *config.Config
	events []store.Event
	acts   []store.Act
	seen   []store.Observation
}

// open reads everything about a span but its frames.
func open(ctx context.Context, r Record, id store.RunID, opt Options) (*span, error) {
	s := &span{head: Head{ID: id, From: opt.From, To: opt.To}}
	if err := s.findInfo(ctx, r); err != nil {
		return nil, err
	}
	if err := s.bound(ctx, r); err != nil {
		return nil, err
	}
	if err := s.readConfig(ctx, r); err != nil {
		return nil, err
	}
	whole := store.RunID{Boot: id.Boot}
	var err error
	if s.events, err = r.Events(ctx, whole); err != nil {
		return nil, err
	}
	if s.acts, err = r.Acts(ctx, whole); err != nil {
		return nil, err
	}
	s.events = slices.DeleteFunc(slices.Clone(s.events), func(e store.Event) bool { return !s.holds(e.T) })
	s.acts = slices.DeleteFunc(slices.Clone(s.acts), func(a store.Act) bool { return !s.holds(a.T) })
	return s, s.readClock(ctx, r)
}

// holds reports whether a time is told of.
func (s *span) holds(t time.Duration) bool {
	return t >= s.head.From && (t <= s.head.To || s.head.To == 0)
}

func (s *span) findInfo(ctx context.Context, r Record) error {
	boots, err := r.Boots(ctx)
	if err != nil {
		return err
	}
	for i := range boots {
		if boots[i].Boot == s.head.ID.Boot {
			s.info = boots[i]
			s.head.Machine, s.head.Software, s.head.Config = s.info.Machine, s.info.Software, s.info.ConfigHash
			s.head.Source = s.info.Source
			return nil
		}
	}
	return fmt.Errorf("cannot tell of %v: the record holds no boot %d", s.head.ID, s.head.ID.Boot)
}

// bound finds the span: a run with what lies around it up to its neighbours.
func (s *span) bound(ctx context.Context, r Record) (err error) {
	id, h := s.head.ID, &s.head
	if id.N == 0 {
		if h.To != 0 && h.To <= h.From {
			return errors.New("cannot tell of a span that ends before it begins")
		}
		h.Start, h.End = h.From, h.To
		return nil
	}
	if s.run, err = r.Run(ctx, id); err != nil {
		return err
	}
	h.Start, h.End, h.Ended = s.run.Start, s.run.End, s.run.Ended
	var before, after store.Run
	var err1 error
	if id.N > 1 {
		before, err1 = r.Run(ctx, store.RunID{Boot: id.Boot, N: id.N - 1})
	}
	after, err2 := r.Run(ctx, store.RunID{Boot: id.Boot, N: id.N + 1})
	for _, err := range []error{err1, err2} {
		if err != nil && !errors.Is(err, store.ErrNoRun) {
			return err
		}
	}
	// A neighbour that there is none of has no times: 0.
	h.From, h.To = store.Around(h.Start, h.End, before.End, after.Start)
	return nil
}

// readConfig takes the configuration in force, where the record holds one that
// this version understands.
func (s *span) readConfig(ctx context.Context, r Record) (err error) {
	s.cfg, s.head.HasConfig, err = ConfigOf(ctx, r, s.head.Config)
	return err
}

func (s *span) readClock(ctx context.Context, r Record) (err error) {
	boot := s.head.ID.Boot
	if s.seen, err = r.Observations(ctx, boot); err != nil {
		return err
	}
	wall, ok, err := r.WallAt(ctx, boot, s.head.Start)
	if err != nil || !ok || wall.Year() < firstYear {
		return err
	}
	s.head.StartWall, s.head.Clock = wall, ClockUnchecked
	for i := range s.seen {
		switch s.seen[i].Trust {
		case store.Synced:
			s.head.Clock = ClockSynced
		case store.ByPerson:
			s.head.Clock = max(s.head.Clock, ClockByPerson)
		}
	}
	return nil
}

// firstYear is when this program can first have run: what a clock says before
// it is a board without a battery, counting from 1970.
const firstYear = 2025
