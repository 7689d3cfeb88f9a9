// Package bounded waits for a call no longer than a limit, also when the call
// itself never returns, as a read from a hung bus does. It owns the one
// goroutine per Slot in which such a call is left behind, and it refuses to
// start a second one before the first has returned: hung calls never pile up.
// It knows no device and no clock but the runtime's.
package bounded

import (
	"errors"
	"fmt"
	"sync"
	"time"
)

// ErrLate means that the call did not return within its limit. It goes on in
// the background; its result will be dropped.
var ErrLate = errors.New("no answer in time")

// ErrBusy means that an earlier call on the same Slot was abandoned and still
// has not returned, so that this one was not started.
var ErrBusy = errors.New("an earlier call still hangs")

// Slot is the place for one call at a time. The zero value is free. Use one
// Slot for each bus or device that can hang by itself.
type Slot struct {
	mu   sync.Mutex
	busy bool
}

func (s *Slot) take() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.busy {
		return false
	}
	s.busy = true
	return true
}

func (s *Slot) free() {
	s.mu.Lock()
	s.busy = false
	s.mu.Unlock()
}

type result[T any] struct {
	value T
	err   error
}

// Do runs call in a goroutine of its own and waits for it at most limit. It
// returns ErrLate when the limit passes and ErrBusy when the slot is taken; a
// panic of call comes back as an error. When an abandoned call does succeed in
// the end, late, if not nil, is given its value, to close what it opened,
// before the slot is free again.
func Do[T any](s *Slot, limit time.Duration, call func() (T, error), late func(T)) (T, error) {
	var none T
	if !s.take() {
		return none, ErrBusy
	}
	done, abandoned := make(chan result[T]), make(chan struct{})
	go func() {
		r := shielded(call)
		select {
		case done <- r:
		case <-abandoned:
			if r.err == nil && late != nil {
				late(r.value)
			}
			s.free()
		}
	}()
	timer := time.NewTimer(limit)
	defer timer.Stop()
	select {
	case r := <-done:
		s.free()
		return r.value, r.err
	case <-timer.C:
		close(abandoned)
		return none, ErrLate
	}
}

// shielded turns a panic into an error: the supervisor can catch one only in
// its own goroutine, and here it would end the whole program.
func shielded[T any](call func() (T, error)) (r result[T]) {
	defer func() {
		if p := recover(); p != nil {
			r.err = fmt.Errorf("the call broke: %v", p)
		}
	}()
	v, err := call()
	return result[T]{v, err}
}
