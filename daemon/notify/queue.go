package notify

import (
	"cmp"
	"slices"
	"sync"
	"time"

	"headroom/rules/engine"
)

// queue holds what one target has yet to be told: one place for each alarm, in
// which the newest state wins. Its size is the number of alarms, whatever
// happens.
type queue struct {
	mu      sync.Mutex
	latest  [engine.NumAlarms]Notification
	waiting [engine.NumAlarms]bool
	news    [engine.NumAlarms]bool // waits as news, not as a repeat
	out     [engine.NumAlarms]bool // is being sent as news
	wake    chan struct{}

	coalesced uint64
}

// newQueue makes an empty queue; blanks are the alarms before any was raised.
func newQueue(blanks *[engine.NumAlarms]Notification) *queue {
	return &queue{latest: *blanks, wake: make(chan struct{}, 1)}
}

// put takes a newer state of an alarm. It never waits longer than a copy takes.
func (q *queue) put(n Notification) {
	q.mu.Lock()
	a := n.Alarm
	if q.news[a] {
		n.Coalesced = q.latest[a].Coalesced + 1
		q.coalesced++
	}
	q.latest[a], q.waiting[a], q.news[a] = n, true, true
	q.mu.Unlock()
	select {
	case q.wake <- struct{}{}:
	default: // it has been woken already
	}
}

// take returns up to most notifications, the most urgent first: what stands
// before what has gone back, then by level, then the oldest. The caller must
// give each back with done or retry.
func (q *queue) take(most int) []Notification {
	q.mu.Lock()
	defer q.mu.Unlock()
	var batch []Notification
	for a := range q.latest {
		if q.waiting[a] {
			batch = append(batch, q.latest[a])
		}
	}
	slices.SortStableFunc(batch, urgency)
	batch = batch[:min(most, len(batch))]
	for i := range batch {
		a := batch[i].Alarm
		q.out[a] = q.news[a]
		q.waiting[a], q.news[a] = false, false
	}
	return batch
}

func urgency(a, b Notification) int {
	return cmp.Or(
		cmp.Compare(rank(a.State), rank(b.State)),
		cmp.Compare(b.Level, a.Level),
		cmp.Compare(a.Seq, b.Seq),
	)
}

func rank(s State) int {
	switch s {
	case Raised:
		return 0
	case Returned:
		return 1
	}
	return 2
}

// done gives back a batch that was delivered or given up, and returns how many
// of it were news and how many repeats.
func (q *queue) done(batch []Notification) (news, repeats uint64) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for i := range batch {
		a := batch[i].Alarm
		if q.out[a] {
			news++
		} else {
			repeats++
		}
		q.out[a] = false
	}
	return news, repeats
}

// retry gives back a batch that could not be delivered. Where a newer state
// waits by now it takes the older one's place.
func (q *queue) retry(batch []Notification) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for i := range batch {
		a := batch[i].Alarm
		switch {
		case q.out[a] && q.news[a]:
			q.latest[a].Coalesced += batch[i].Coalesced + 1
			q.coalesced++
		case q.out[a]:
			q.news[a] = true
		}
		q.waiting[a], q.out[a] = true, false
	}
}

// repeat makes standing alarms wait again, and those that have returned after
// since.
func (q *queue) repeat(since time.Time) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for a := range q.latest {
		n := &q.latest[a]
		if n.State == Raised || n.State == Returned && n.at.After(since) {
			q.waiting[a] = true
		}
	}
}

// repeatAll makes every alarm wait again, also those that were never raised.
func (q *queue) repeatAll() {
	q.mu.Lock()
	defer q.mu.Unlock()
	for a := range q.waiting {
		q.waiting[a] = true
	}
}

// pending counts what waits, and how much of it is news.
func (q *queue) pending() (waiting, news int) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for a := range q.waiting {
		if q.waiting[a] {
			waiting++
		}
		if q.news[a] {
			news++
		}
	}
	return waiting, news
}

// drops counts the states whose place a newer one took.
func (q *queue) drops() uint64 {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.coalesced
}
