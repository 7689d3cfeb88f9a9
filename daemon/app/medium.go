package app

import (
	"errors"
	"sync"

	"headroom/daemon/medium"
)

// mediumWatch asks what the record's folder lies on, in a goroutine of its own:
// a dying card lets the kernel hang, and whoever asks it.
type mediumWatch struct {
	mu   sync.Mutex
	busy bool
	seen bool
	m    medium.Medium
	err  error
}

var errNotLooked = errors.New("the medium has not been looked at yet")

// look asks, unless the last question is still open.
func (w *mediumWatch) look(folder string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.busy {
		return
	}
	w.busy = true
	go func() {
		m, err := medium.Look(folder)
		w.mu.Lock()
		defer w.mu.Unlock()
		w.m, w.err, w.busy, w.seen = m, err, false, true
	}()
}

// last is the last answer.
func (w *mediumWatch) last() (medium.Medium, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if !w.seen {
		return medium.Medium{}, errNotLooked
	}
	return w.m, w.err
}
