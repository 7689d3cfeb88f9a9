package record

import (
	"sync"
	"time"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// entry is one tick on its way to the log.
type entry struct {
	t        time.Duration
	wall     time.Time
	raw      frame.Frame
	verdicts engine.Verdicts
}

// Queue stands between the tick, which must never wait, and the disk, which
// may hang for many seconds. What finds no place is dropped and counted; the
// last eighth of the places is kept for ticks in which an alarm changed.
type Queue struct {
	mu     sync.Mutex
	ring   []entry
	head   int
	n      int
	health Health
	wake   chan struct{}
}

// Health is what a queue has to say of its work.
type Health struct {
	// Dropped are ticks that found no place, DroppedEvents the transitions in
	// them.
	Dropped, DroppedEvents uint64
	// Failures counts what went wrong; LastError is the last of it in words,
	// empty again once writing works.
	Failures  uint64
	LastError string
}

// DefaultPlaces is 25 seconds of ten ticks a second: longer than a worn card
// has been seen to hang. Common practice, no source.
const DefaultPlaces = 256

// NewQueue makes a queue with that many places, at least 8.
func NewQueue(places int) *Queue {
	return &Queue{ring: make([]entry, max(places, 8)), wake: make(chan struct{}, 1)}
}

// Put takes a copy of a tick, or counts it as dropped. It never waits longer
// than a copy takes, does not allocate and may be called by one goroutine
// while Run works in another.
func (q *Queue) Put(t time.Duration, wall time.Time, raw *frame.Frame, v *engine.Verdicts) {
	q.put(t, wall, raw, v)
	select {
	case q.wake <- struct{}{}:
	default: // it has been woken already
	}
}

func (q *Queue) put(t time.Duration, wall time.Time, raw *frame.Frame, v *engine.Verdicts) {
	q.mu.Lock()
	defer q.mu.Unlock()
	events := len(v.Transitions())
	free := len(q.ring) - q.n
	if free == 0 || events == 0 && free <= len(q.ring)/8 {
		q.health.Dropped++
		q.health.DroppedEvents += uint64(events)
		return
	}
	e := &q.ring[(q.head+q.n)%len(q.ring)]
	e.t, e.wall, e.raw, e.verdicts = t, wall, *raw, *v
	q.n++
}

// first returns the oldest entry, nil for none. Put never touches it, so it
// may be read without the lock until pop.
func (q *Queue) first() *entry {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.n == 0 {
		return nil
	}
	return &q.ring[q.head]
}

func (q *Queue) pop() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.head = (q.head + 1) % len(q.ring)
	q.n--
}

// Health returns how it goes. Safe for use by many goroutines.
func (q *Queue) Health() Health {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.health
}

func (q *Queue) failed(err error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.health.Failures++
	q.health.LastError = err.Error()
}

func (q *Queue) works() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.health.LastError = ""
}
