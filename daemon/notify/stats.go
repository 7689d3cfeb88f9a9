package notify

import (
	"sync"
	"time"
)

// Stats is what a Notifier has done so far, for metrics and health.
type Stats struct {
	// Missed are events that were gone from the store before they were read;
	// the alarms' states were then taken from the snapshot.
	Missed uint64
	// Targets in the order of the options.
	Targets []TargetStats
}

// TargetStats is what became of one target's notifications. The counters only
// grow: every notification is in the end Sent, Coalesced, Refused or Unsent.
type TargetStats struct {
	// Name and Kind of the target.
	Name, Kind string
	// Sent are alarm states that the target took, Repeated those it was sent
	// once more, as reminder or after a new connection.
	Sent, Repeated uint64
	// Failures counts attempts that failed and are tried again.
	Failures uint64
	// Coalesced are alarm states whose place in the queue a newer state of the
	// same alarm took, Refused those that the target will never take, Unsent
	// those that were left when the notifier stopped.
	Coalesced, Refused, Unsent uint64
	// Waiting is how many alarms wait to be sent.
	Waiting int
	// Failing says that the last attempt failed, FailingSince when the first of
	// an unbroken row did, LastError why the last did, in words without
	// secrets. LastError stays after a refusal until the next success.
	Failing      bool
	FailingSince time.Time
	LastError    string
	// LastSuccess is when the target last took something; zero for never. Both
	// times hold a reading of the monotonic clock: take time.Since of them.
	LastSuccess time.Time
}

// tally is one worker's counts.
type tally struct {
	mu sync.Mutex
	s  TargetStats
}

func (t *tally) edit(f func(s *TargetStats)) {
	t.mu.Lock()
	defer t.mu.Unlock()
	f(&t.s)
}

func (t *tally) read() TargetStats {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.s
}
