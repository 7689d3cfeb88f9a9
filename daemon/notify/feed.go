package notify

import (
	"context"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/words"
)

// feed turns the store's events into notifications. It follows the store like
// a page does and is the only writer of its fields.
type feed struct {
	store *snapshot.Store
	opt   *Options
	run   string
	last  uint64 // ID of the last event read
	stood [engine.NumAlarms]bool
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
	f.stood[e.Alarm] = e.Raised
	f.put(n)
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
		st := &latest.Verdicts.Alarms[i]
		if known[i] || st.Active == f.stood[i] {
			continue
		}
		a := engine.AlarmID(i)
		n := f.blank(a)
		n.Seq, n.Level, n.State = events[0].ID-1, st.Level, Returned
		n.MachineState, n.FirstOut = latest.Verdicts.Machine, st.FirstOut
		n.OnsetMono, n.Mono = st.Onset, latest.Mono
		n.Wall = latest.Wall
		if st.Active {
			n.State, n.Mono = Raised, st.Since
			n.Wall = latest.Wall.Add(st.Since - latest.Mono)
			n.LooksLike, n.Do = seems(latest, a)
		}
		f.date(&n, now, latest)
		f.stood[i] = st.Active
		f.put(n)
	}
}

// blank is an alarm of which nothing has been heard.
func (f *feed) blank(a engine.AlarmID) Notification {
	return Notification{
		Machine: f.opt.Machine, Boot: f.opt.Boot, Units: f.opt.Units, Dashboard: f.opt.Dashboard,
		Alarm: a, Words: words.Alarm(a), run: f.run,
	}
}
