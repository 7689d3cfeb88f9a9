package snapshot

import (
	"crypto/rand"
	"sync"
	"time"

	"headroom/rules/alarm"
)

const (
	// keepPoints is ten minutes at ten ticks a second.
	keepPoints = 6000
	// keepEvents is more alarms than a bad day brings.
	keepEvents = 500
	// startLetters of 5 bits each: two starts of one machine don't meet by
	// chance.
	startLetters = 12
)

// Store keeps the latest snapshot, the last minutes and the last events, and
// wakes those who wait for a new one. All methods are safe for use by many
// goroutines; none holds the lock longer than a copy takes.
type Store struct {
	start  string
	mu     sync.Mutex
	latest *Snapshot
	points []Point // ring, oldest at next when full
	next   int
	events []Event
	lastID uint64
	wake   chan struct{}

	acts      []ActEvent
	lastAct   uint64
	actTotals [alarm.NumActs]uint64
}

// NewStore makes an empty store, which begins to count its events and acts at 1.
func NewStore() *Store {
	return &Store{start: rand.Text()[:startLetters], points: make([]Point, 0, keepPoints), wake: make(chan struct{})}
}

// Start names this start of the program, by letters and digits drawn at random.
// Tick numbers and the IDs of events and acts count anew from it, so one that was
// kept from another start says nothing here.
func (st *Store) Start() string { return st.start }

// Publish makes s the latest snapshot. Only the tick calls it; s must not be
// changed afterwards.
func (st *Store) Publish(s *Snapshot) {
	st.mu.Lock()
	defer st.mu.Unlock()
	st.latest = s
	p := Point{Seq: s.Seq, Mono: s.Mono, Wall: s.Wall, Samples: s.Verdicts.Samples, Level: s.Verdicts.Level}
	if len(st.points) < keepPoints {
		st.points = append(st.points, p)
	} else {
		st.points[st.next] = p
		st.next = (st.next + 1) % keepPoints
	}
	for _, t := range s.Verdicts.Transitions() {
		st.lastID++
		e := Event{ID: st.lastID, Wall: s.Wall, Transition: t}
		if t.Raised && t.First {
			at := s.Verdicts.Samples
			e.Samples = &at
		}
		st.events = append(st.events, e)
	}
	if over := len(st.events) - keepEvents; over > 0 {
		st.events = append(st.events[:0:0], st.events[over:]...)
	}
	close(st.wake)
	st.wake = make(chan struct{})
}

// Latest returns the latest snapshot, nil before the first tick.
func (st *Store) Latest() *Snapshot {
	st.mu.Lock()
	defer st.mu.Unlock()
	return st.latest
}

// Changed returns a channel that closes when a newer snapshot than the latest
// is published.
func (st *Store) Changed() <-chan struct{} {
	st.mu.Lock()
	defer st.mu.Unlock()
	return st.wake
}

// Points returns a copy of the ticks of the last window, oldest first.
func (st *Store) Points(window time.Duration) []Point {
	st.mu.Lock()
	defer st.mu.Unlock()
	if st.latest == nil {
		return nil
	}
	from := st.latest.Mono - window
	return st.newest(func(p *Point) bool { return p.Mono >= from })
}

// PointsAfter returns a copy of the ticks after the one with that number, as
// far back as they are kept, oldest first.
func (st *Store) PointsAfter(seq uint64) []Point {
	st.mu.Lock()
	defer st.mu.Unlock()
	return st.newest(func(p *Point) bool { return p.Seq > seq })
}

// newest copies the newest points back to the first that isn't wanted. A copy
// is as long as what is wanted: a page asks for a few points four times a
// second.
func (st *Store) newest(wanted func(*Point) bool) []Point {
	size := len(st.points)
	n := 0
	for n < size && wanted(&st.points[(st.next+size-1-n)%size]) {
		n++
	}
	if n == 0 {
		return nil
	}
	out := make([]Point, 0, n)
	for i := size - n; i < size; i++ {
		out = append(out, st.points[(st.next+i)%size])
	}
	return out
}

// Events returns a copy of the events with an ID above after, oldest first.
func (st *Store) Events(after uint64) []Event {
	st.mu.Lock()
	defer st.mu.Unlock()
	for i := range st.events {
		if st.events[i].ID > after {
			return append([]Event(nil), st.events[i:]...)
		}
	}
	return nil
}
