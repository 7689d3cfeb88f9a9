package app

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"headroom/daemon/snapshot"
	"headroom/daemon/store"
)

// program is who did what no person did.
const program = "headroom"

const (
	// maxActs is more than people can do while a disk hangs.
	maxActs = 256
	// maxHeldActs waits for a record that can't be opened.
	maxHeldActs = 1000
)

var (
	errNoRecord = errors.New("the record can't be opened; it will be written down as soon as it can")
	errManyActs = errors.New("too many acts are waiting for the disk")
)

// scribe writes down what was done, in the order in which it was done, and how
// the alarms stand after it. Adding waits for no disk; whoever wants to know
// when it is safe gives a channel. It is one goroutine, so that an older state
// of the alarms never overwrites a newer one.
type scribe struct {
	app  *App
	wake chan struct{}

	mu   sync.Mutex
	todo []deed
	kept *snapshot.Kept

	// wmu is held while the disk is waited for.
	wmu   sync.Mutex
	store *store.Store
	// held are acts that no store could take yet.
	held []deed
}

// deed is an act on its way to the disk.
type deed struct {
	act  store.Act
	done chan<- error // may be nil; has room for one
}

func newScribe(a *App) *scribe { return &scribe{app: a, wake: make(chan struct{}, 1)} }

// add takes an act. done, if any, gets nil once the act is safe, or why it
// isn't yet.
func (s *scribe) add(act store.Act, done chan<- error) {
	s.mu.Lock()
	full := len(s.todo) >= maxActs
	if !full {
		s.todo = append(s.todo, deed{act, done})
	}
	s.mu.Unlock()
	if full {
		s.app.log.Error("an act is not recorded", "what", act.What, "alarm", act.Alarm, "who", act.Who, "error", errManyActs)
		tellDone(done, errManyActs)
		return
	}
	s.stir()
}

// keep takes how the alarms stand; the newest wins.
func (s *scribe) keep(k *snapshot.Kept) {
	s.mu.Lock()
	s.kept = k
	s.mu.Unlock()
	s.stir()
}

func (s *scribe) stir() {
	select {
	case s.wake <- struct{}{}:
	default: // stirred already
	}
}

// run writes until ctx ends, and then what is left.
func (s *scribe) run(ctx context.Context) {
	for {
		select {
		case <-s.wake:
			s.write()
		case <-ctx.Done():
			s.write()
			return
		}
	}
}

// opened gives the scribe its store, and writes what has waited for it.
func (s *scribe) opened(st *store.Store) {
	s.wmu.Lock()
	defer s.wmu.Unlock()
	s.store = st
	if err := s.writeHeld(); err != nil {
		s.app.log.Warn("acts wait to be recorded", "acts", len(s.held), "error", err)
	}
}

// end is the last chance of what is left, before the store is closed.
func (s *scribe) end() error {
	s.write()
	s.wmu.Lock()
	defer s.wmu.Unlock()
	return s.writeHeld()
}

// write writes all that was added. An act is safe when it is in the record and
// the alarms are kept as they stand after it.
func (s *scribe) write() {
	s.wmu.Lock()
	defer s.wmu.Unlock()
	s.mu.Lock()
	todo, kept := s.todo, s.kept
	s.todo, s.kept = nil, nil
	s.mu.Unlock()
	if kept != nil {
		if err := s.app.writeKept(kept); err != nil {
			for i := range todo {
				tellDone(todo[i].done, err)
				todo[i].done = nil
			}
		}
	}
	s.held = append(s.held, todo...)
	if over := len(s.held) - maxHeldActs; over > 0 {
		s.app.log.Error("acts are lost: the record could not be opened for too long", "acts", over)
		s.held = s.held[over:]
	}
	if err := s.writeHeld(); err != nil {
		s.app.log.Warn("acts are done, but not yet recorded", "acts", len(s.held), "error", err)
	}
}

// writeHeld hands what is held to the store, oldest first. What the store has
// taken it writes itself as soon as it can, even after an error. Before the
// store is there nothing is told, unless it is known to have failed: it is
// opened within a moment.
func (s *scribe) writeHeld() error {
	if s.store == nil {
		why := s.app.keeper.queue.Health().LastError
		if why == "" || len(s.held) == 0 {
			return nil
		}
		err := fmt.Errorf("%w: %s", errNoRecord, why)
		s.tellHeld(err)
		return err
	}
	var last error
	for len(s.held) > 0 {
		d := &s.held[0]
		got, err := s.store.Act(d.act)
		tellDone(d.done, err)
		d.done = nil
		if err != nil && got.N == 0 {
			return err // not taken
		}
		s.held, last = s.held[1:], err
	}
	return last
}

// tellHeld tells those who wait that it takes longer.
func (s *scribe) tellHeld(err error) {
	for i := range s.held {
		tellDone(s.held[i].done, err)
		s.held[i].done = nil
	}
}

func tellDone(done chan<- error, err error) {
	if done != nil {
		done <- err
	}
}

// writeActs writes down what is done until ctx ends.
func (a *App) writeActs(ctx context.Context) {
	if a.keeper != nil {
		a.keeper.scribe.run(ctx)
	}
}

// keepLast writes how the alarms stand at the end.
func (a *App) keepLast() {
	if a.keeper != nil {
		last := a.state.Keep()
		a.keeper.scribe.keep(&last)
		a.keeper.scribe.write()
	}
}
