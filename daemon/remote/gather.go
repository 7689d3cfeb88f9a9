package remote

import (
	"context"
	"time"

	"headroom/daemon/store"
)

// collect gathers the next batch and where it leads; after is nil while there
// is nothing to send.
func (s *Sender) collect(ctx context.Context, r Record) (b *batch, after *place, err error) {
	boots, err := r.Boots(ctx)
	if err != nil {
		return nil, nil, err
	}
	at := s.st.At
	at.Base = copySums(&at.Base)
	b = newBatch(s.common)
	g := gatherer{s: s, r: r, at: &at, b: b, boots: boots, wide: -1}
	for {
		again, err := g.boot(ctx)
		if err != nil {
			return nil, nil, err
		}
		if !again {
			break
		}
	}
	if !g.moved {
		return nil, nil, nil
	}
	if g.wide >= 0 {
		s.st.Wide = g.wide
	}
	return b, &at, nil
}

// gatherer fills one batch.
type gatherer struct {
	s     *Sender
	r     Record
	at    *place
	b     *batch
	boots []store.Info
	// wide is the index of the batch's width, -1 before the first minute.
	wide, minutes int
	moved         bool
}

// boot takes minutes of the boot at hand; again tells that another follows.
func (g *gatherer) boot(ctx context.Context) (again bool, err error) {
	info, next := g.find()
	if info == nil {
		if next == 0 {
			return false, nil
		}
		g.leave(next, &g.at.Here) // the boot was deleted to make room
		return true, nil
	}
	w, err := g.follow(ctx, info, next != 0)
	if err != nil || !g.due(w) {
		return false, err
	}
	ok, err := g.dated(ctx, w)
	if err != nil {
		return false, err
	}
	if g.s.hold(!ok); !ok {
		return false, nil
	}
	end, err := w.minutes(ctx, func(m *span) (bool, error) { return g.take(ctx, w, m) })
	sums := w.judge.sums()
	g.at.Here = sums
	if err != nil || !end || next == 0 {
		return false, err
	}
	g.leave(next, &sums)
	return g.room(), nil
}

// find is the boot of the position, and the number of the one after it; 0 for
// none. Imported ones are somebody else's.
func (g *gatherer) find() (info *store.Info, next uint64) {
	for i := range g.boots {
		b := &g.boots[i]
		switch {
		case b.Boot == g.at.Boot && !b.Source.Imported():
			info = b
		case b.Boot > g.at.Boot && next == 0 && !b.Source.Imported():
			next = b.Boot
		}
	}
	return info, next
}

// leave goes on to the next boot.
func (g *gatherer) leave(next uint64, sums *store.Sums) {
	g.at.Base.Add(sums)
	g.at.Boot, g.at.Minute, g.at.StampT, g.at.Here = next, 0, 0, store.Sums{}
	g.s.walk = nil
	g.moved = true
}

// follow gives the walk through a boot, up to where it was sent.
func (g *gatherer) follow(ctx context.Context, info *store.Info, over bool) (*walk, error) {
	w := g.s.walk
	if w == nil || w.info.Boot != info.Boot || w.next != g.at.Minute || w.rec != g.r {
		var err error
		if w, err = newWalk(ctx, g.r, info); err != nil {
			return nil, err
		}
		if g.at.Minute > 0 {
			if err := g.rewind(ctx, w); err != nil {
				return nil, err
			}
		}
		g.s.walk = w
	} else if err := w.refresh(ctx); err != nil {
		return nil, err
	}
	w.over = over
	return w, nil
}

// rewind brings a walk to the position, sending nothing.
func (g *gatherer) rewind(ctx context.Context, w *walk) error {
	silent := *g.at
	_, err := w.minutes(ctx, func(m *span) (bool, error) {
		err := w.tell(ctx, m, 0, &silent, nil)
		return m.index+1 < g.at.Minute, err
	})
	if err == nil && w.next < g.at.Minute {
		w.next = g.at.Minute
	}
	return err
}

// due reports whether it is worth a look: the present boot is sent in pieces
// of Every.
func (g *gatherer) due(w *walk) bool {
	if w.over || g.moved {
		return true
	}
	behind := g.s.behind(w)
	return behind >= int64(g.s.opt.Every/minute)
}

// behind is how many whole minutes of the present boot lie ahead of the
// position, by the boot's own clock.
func (s *Sender) behind(w *walk) int64 {
	if s.opt.Clock == nil {
		return maxMinutes
	}
	return int64((s.opt.Clock()-margin)/minute) - w.next
}

// dated reports whether the boot's times can be told: somebody vouched for its
// clock, or it is over and nobody will any more.
func (g *gatherer) dated(ctx context.Context, w *walk) (bool, error) {
	if trusted(w.notes) || g.s.opt.AnyClock && len(w.notes) > 0 {
		return true, nil
	}
	if !w.over {
		return false, nil
	}
	notes, err := g.r.Observations(ctx, g.r.Boot())
	return trusted(notes), err
}

// room reports whether the batch may grow.
func (g *gatherer) room() bool { return g.b.samples < maxSamples && g.minutes < g.s.opt.most() }

// take writes one minute into the batch. The width holds for the whole batch,
// so that its price is known.
func (g *gatherer) take(ctx context.Context, w *walk, m *span) (more bool, err error) {
	if g.wide < 0 {
		g.wide = g.s.choose(w)
	}
	g.b.practice = practiceOf(w)
	if err := w.tell(ctx, m, widths[g.wide], g.at, g.b); err != nil {
		return false, err
	}
	g.at.Minute = m.index + 1
	g.minutes++
	g.moved = true
	return g.room(), nil
}

// practiceOf is the label of a boot whose readings were no machine's own. A boot
// of an earlier version doesn't say; its config then tells of a simulator.
func practiceOf(w *walk) string {
	switch r := w.info.Source.Readings; {
	case r == store.FromPlayback:
		return playbackLabel
	case r == store.FromSimulator, r == store.NotTold && w.judge.cfg != nil && w.judge.cfg.Simulator.On:
		return simulatedLabel
	}
	return ""
}

// choose is the width of the next batch.
func (s *Sender) choose(w *walk) int {
	for i := range widths {
		if s.opt.Width > 0 && widths[i] == width(s.opt.Width) {
			if s.opt.Budget == 0 {
				return i
			}
			return max(i, s.st.Spent.choose(time.Now(), s.opt.Budget, max(0, s.behind(w))))
		}
	}
	return s.st.Spent.choose(time.Now(), s.opt.Budget, max(0, s.behind(w)))
}
