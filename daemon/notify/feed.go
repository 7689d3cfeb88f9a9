package notify

import (
	"context"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/words"
)

// Source is where events come from; *snapshot.Store is the one there is. Its
// methods must not block for longer than a copy takes.
type Source interface {
	// Changed returns a channel that closes when there is something new.
	Changed() <-chan struct{}
	// Events returns those with an ID above after, oldest first.
	Events(after uint64) []snapshot.Event
	// Latest returns the latest snapshot, nil before the first event.
	Latest() *snapshot.Snapshot
}

var _ Source = (*snapshot.Store)(nil)

// feed turns the store's events into notifications. It follows the store like
// a page does and is the only writer of its fields.
type feed struct {
	store Source
	opt   *Options
	run   string
	last  uint64 // ID of the last event read
	told  [engine.NumAlarms]Notification
	put   func(Notification)
	miss  func(uint64)
}

// follow reads until ctx ends, and then once more, so that what the last tick
// said is told too.
func (f *feed) follow(ctx context.Context) {
	for {
		changed := f.store.Changed() // before reading, so that nothing falls between
		f.read()
		select {
		case <-ctx.Done():
			f.read()
			return
		case <-changed:
		}
	}
}

// read queues all new events.
func (f *feed) read() {
	events := f.store.Events(f.last)
	if len(events) == 0 {
		return
	}
	now, latest := time.Now(), f.store.Latest()
	lost := events[0].ID - f.last - 1
	if lost > 0 {
		f.miss(lost)
		f.resync(now, latest, events)
	}
	for i := range events {
		f.tell(now, latest, &events[i])
	}
	f.last = events[len(events)-1].ID
}

// tell queues one event.
func (f *feed) tell(now time.Time, latest *snapshot.Snapshot, e *snapshot.Event) {
	n := f.blank(e.Alarm)
	n.Seq, n.Level, n.State = e.ID, e.Level, Returned
	if e.Raised {
		n.State = Raised
	}
	if q, ok := quantity(e.Alarm); ok {
		n.Value = Amount{SI: e.Value, Quantity: q, Known: true}
		n.Limit = Amount{SI: e.Limit, Quantity: q, Known: true}
	}
	n.Sensor, n.MachineState, n.FirstOut = e.Status, e.Machine, e.First
	n.OnsetMono, n.Mono, n.Wall = e.Onset, e.T, e.Wall
	f.date(&n, now, latest)
	if e.Raised {
		n.LooksLike, n.Do = seems(latest, e.Alarm)
	}
	f.give(n)
}

// date adds what follows from the monotonic times and the clock.
func (f *feed) date(n *Notification, now time.Time, latest *snapshot.Snapshot) {
	n.at = now.Add(n.Mono - latest.Mono)
	n.onset = now.Add(n.OnsetMono - latest.Mono)
	if !n.Wall.IsZero() {
		n.OnsetWall = n.Wall.Add(n.OnsetMono - n.Mono)
	}
	if f.opt.Clock != nil {
		n.Clock = f.opt.Clock()
	}
}

// seems returns the likeliest cause that the rule sees while its alarm stands.
func seems(latest *snapshot.Snapshot, a engine.AlarmID) (looksLike, do string) {
	r, ok := a.Rule()
	if !ok || !latest.Verdicts.Alarms[a].Active {
		return "", ""
	}
	return words.Cause(latest.Verdicts.Rules[r].Cause)
}

// resync tells the alarms whose last event was lost, by how they stand in the
// latest snapshot. Value and limit of that moment are lost with the event.
func (f *feed) resync(now time.Time, latest *snapshot.Snapshot, events []snapshot.Event) {
	var known [engine.NumAlarms]bool
	for i := range events {
		known[events[i].Alarm] = true
	}
	for i := range engine.NumAlarms {
		a, st, old := engine.AlarmID(i), &latest.Verdicts.Alarms[i], &f.told[i]
		if known[i] || st.Active == (old.State == Raised) {
			continue
		}
		n := f.blank(a)
		n.Seq, n.MachineState = events[0].ID-1, latest.Verdicts.Machine
		if st.Active {
			n.State, n.Level, n.FirstOut = Raised, st.Level, st.FirstOut
			n.OnsetMono, n.Mono = st.Onset, st.Since
			n.LooksLike, n.Do = seems(latest, a)
		} else { // gone back at some time until now
			n.State, n.Level = Returned, old.Level
			n.OnsetMono, n.Mono = old.OnsetMono, latest.Mono
		}
		n.Wall = latest.Wall.Add(n.Mono - latest.Mono)
		f.date(&n, now, latest)
		f.give(n)
	}
}

func (f *feed) give(n Notification) {
	f.told[n.Alarm] = n
	f.put(n)
}

// blank is an alarm of which nothing has been heard.
func (f *feed) blank(a engine.AlarmID) Notification {
	return Notification{
		Machine: f.opt.Machine, Boot: f.opt.Boot, Units: f.opt.Units, Dashboard: f.opt.Dashboard,
		Alarm: a, Words: words.Alarm(a), run: f.run,
	}
}
