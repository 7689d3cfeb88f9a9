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
	// totals as they stood after the tick, where they were noted.
	totals    engine.Totals
	hasTotals bool
	// loss is what was dropped just before it.
	loss Loss
}

// Loss is a span of ticks that found no place in the queue. The zero value is
// none.
type Loss struct {
	// Frames that were dropped, and Changes, the alarms that went up or back in
	// them.
	Frames, Changes uint64
	// From and To are the times of the first and the last.
	From, To time.Duration
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
	// loss is what was dropped since the last tick that found a place.
	loss Loss
	// busy is when the log was last given something that it has not come back
	// from; zero while nothing is asked of it.
	busy time.Time
	wake chan struct{}

	// totals were noted for the next Put; they belong to its caller alone.
	totals    engine.Totals
	hasTotals bool
}

// Health is what a queue has to say of its work.
type Health struct {
	// Dropped are ticks that found no place, DroppedChanges the alarms that
	// went up or back in them.
	Dropped, DroppedChanges uint64
	// Failures counts what went wrong; LastError is the last of it in words,
	// empty again once writing works.
	Failures  uint64
	LastError string
	// Cause is that error itself, nil once writing works.
	Cause error
	// Hanging is how long the log has not come back from what it was given
	// last; 0 while it is idle. A healthy medium needs well below a second.
	Hanging time.Duration
	// Waiting are the ticks in the queue.
	Waiting int
}

// DefaultPlaces is 25 seconds of ten ticks a second: longer than a worn card
// has been seen to hang. Common practice, no source.
const DefaultPlaces = 256

// NewQueue makes a queue with that many places, at least 8.
func NewQueue(places int) *Queue {
	return &Queue{ring: make([]entry, max(places, 8)), wake: make(chan struct{}, 1)}
}

// NoteTotals takes the engine's totals as they stand after the step of the next
// Put, and hands them to a log that has a NoteTotals of its own. It is for the
// goroutine that calls Put.
func (q *Queue) NoteTotals(t *engine.Totals) { q.totals, q.hasTotals = *t, true }

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
	changes := len(v.Transitions())
	free := len(q.ring) - q.n
	if free == 0 || changes == 0 && free <= len(q.ring)/8 {
		q.health.Dropped++
		q.health.DroppedChanges += uint64(changes)
		q.lose(t, changes)
		return
	}
	e := &q.ring[(q.head+q.n)%len(q.ring)]
	e.t, e.wall, e.raw, e.verdicts = t, wall, *raw, *v
	e.totals, e.hasTotals, q.hasTotals = q.totals, q.hasTotals, false
	e.loss, q.loss = q.loss, Loss{}
	q.n++
}

// lose adds a tick to the span that is lost.
func (q *Queue) lose(t time.Duration, changes int) {
	if q.loss.Frames == 0 {
		q.loss.From = t
	}
	q.loss.Frames++
	q.loss.Changes += uint64(changes)
	q.loss.To = t
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
	if q.n--; q.n == 0 {
		q.head = 0 // a queue that is never long touches little memory
	}
}

// Health returns how it goes. Safe for use by many goroutines.
func (q *Queue) Health() Health {
	q.mu.Lock()
	defer q.mu.Unlock()
	h := q.health
	h.Waiting = q.n
	if !q.busy.IsZero() {
		h.Hanging = time.Since(q.busy)
	}
	return h
}

// watch runs do, a call into the log, and notes how long it takes.
func (q *Queue) watch(do func() error) error {
	q.setBusy(time.Now())
	defer q.setBusy(time.Time{})
	return do()
}

func (q *Queue) setBusy(since time.Time) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.busy = since
}

func (q *Queue) failed(err error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.health.Failures++
	q.health.LastError, q.health.Cause = err.Error(), err
}

func (q *Queue) works() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.health.LastError, q.health.Cause = "", nil
}
