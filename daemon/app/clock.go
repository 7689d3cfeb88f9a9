package app

import (
	"context"
	"time"

	"headroom/daemon/store"
)

const (
	// clockEvery is how often the wall clock is looked at.
	clockEvery = time.Second
	// clockMoves is from when on a difference between the wall clock and the
	// monotonic one is a jump, and not the slow pull of a time server.
	clockMoves = time.Second
	// clockAgain is how often a trusted clock is noted, so that the drift of
	// the board's own crystal in between stays below the tenth of a second
	// that a tick lasts: 20 parts in a million, as data sheets of such
	// crystals give them; from memory, no source.
	clockAgain = time.Hour
)

// clockWatch decides when what the clock says is worth a note.
type clockWatch struct {
	begun  bool
	offset time.Duration
	synced bool
	noted  time.Duration
}

// look takes a moment: the monotonic time, the wall clock against it, and
// whether the kernel says that something keeps that clock right. note asks for
// a note of the trust.
func (c *clockWatch) look(t, offset time.Duration, synced bool) (trust store.Trust, note bool) {
	jumped := !c.begun || (offset-c.offset).Abs() > clockMoves
	came := synced && !c.synced
	due := synced && t-c.noted >= clockAgain
	c.begun, c.synced = true, synced
	if !jumped && !came && !due {
		return 0, false
	}
	// The offset is that of the last note: a slow pull adds up to a jump too.
	c.offset, c.noted = offset, t
	if synced {
		return store.Synced, true
	}
	return store.Seen, true
}

// watchClock notes in the record what is known of the time, until ctx ends: at
// the start, when the clock was set, and when the kernel begins to trust it.
// The engine and the order of the record never see the wall clock. At another
// speed than life's the program's own clock says nothing of the world's.
func (a *App) watchClock(ctx context.Context) {
	if a.keeper == nil || a.opt.Speed != 1 {
		return
	}
	var c clockWatch
	every := time.NewTicker(clockEvery)
	defer every.Stop()
	for {
		if s := a.Record(); s != nil && a.lastTick() > 0 {
			a.noteClock(&c, s)
		}
		select {
		case <-ctx.Done():
			return
		case <-every.C:
		}
	}
}

func (a *App) noteClock(c *clockWatch, s *store.Store) {
	t, wall := a.clock(), a.wall()
	before := *c
	trust, note := c.look(t, time.Duration(wall.UnixNano())-t, a.clockSynced())
	if !note {
		return
	}
	if err := s.NoteClock(store.Observation{T: t, Wall: wall, Trust: trust}); err != nil {
		*c = before // tried again at the next look
		a.log.Debug("the clock could not be noted", "error", err)
		return
	}
	if before.begun {
		a.log.Info("clock", "wall", wall.Format(time.RFC3339), "trusted", trust == store.Synced)
	}
}
