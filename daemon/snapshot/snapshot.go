// Package snapshot is what the tick hands to everybody else: one immutable
// value per tick, the last minutes of it, the alarms' comings and goings, and
// what people did to them. The dashboard, the metrics and the log read from
// here, so that a page view or a scrape never touches a bus and nothing slow
// ever delays the tick. It computes nothing and stores nothing on disk.
package snapshot

import (
	"time"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// Snapshot is the machine at one tick. It is never changed once published.
type Snapshot struct {
	// Seq counts ticks from 1 and never repeats within a boot.
	Seq uint64
	// Mono is the tick's monotonic time since the daemon's start; Wall is what
	// the clock said, an annotation that may jump.
	Mono time.Duration
	Wall time.Time
	// Verdicts is what the engine said. Its Samples are the channels as the
	// rules saw them.
	Verdicts engine.Verdicts
	// Notes are the drivers' own words on each channel, empty where all is
	// well.
	Notes [frame.NumChannels]string
	// Totals since the daemon's start.
	Totals engine.Totals
	// Health of the daemon itself.
	Health Health
}

// Health counts what went wrong inside the daemon.
type Health struct {
	// LateTicks came more than half a period late.
	LateTicks uint64
	// RecordDropped are frames that the record could not take in time;
	// RecordError is why nothing is recorded and what to do, in words, empty
	// when it is writing.
	RecordDropped uint64
	RecordError   string
	// Run names the run that goes on as the record does, for example "12.3", and
	// RunBegan is when it began on the clock of Mono; empty between runs and
	// where nothing is recorded. They come up to a second late.
	Run      string
	RunBegan time.Duration
	// System are the alarms about the program itself that stand now, the
	// worst first.
	System []SystemAlarm
	// Notify are the targets of notifications, in the config's order.
	Notify []Notified
	// Restarts counts how often a driver ended and was started again.
	Restarts uint64
}

// Notified is one target of notifications.
type Notified struct {
	// Name of the target.
	Name string
	// Sent alarm states that it took, Failures of attempts that are tried
	// again, Dropped states that it never got: a newer one took their place,
	// or it will never take them.
	Sent, Failures, Dropped uint64
	// Waiting alarms, and whether the last attempt failed.
	Waiting int
	Failing bool
}

// Point is one tick of the last minutes, for charts.
type Point struct {
	Seq     uint64
	Mono    time.Duration
	Wall    time.Time
	Samples [frame.NumChannels]frame.Sample
	Level   engine.Level
}

// Event is an alarm's transition with the wall time it happened at.
type Event struct {
	// ID counts events from 1.
	ID   uint64
	Wall time.Time
	// Samples are all channels as the rules saw them at that moment, where the
	// alarm was the first to come up; nil for all others. It isn't changed.
	Samples *[frame.NumChannels]frame.Sample
	engine.Transition
}
