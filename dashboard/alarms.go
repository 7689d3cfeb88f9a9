package dashboard

import (
	"sort"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/units"
	"headroom/rules/words"
)

// alarmRow is one standing alarm.
type alarmRow struct {
	Tone, Level                string
	Title, Consequence, Action string
	// Looks is what the readings point to, and Then what to do about that;
	// empty where they point to nothing.
	Looks, Then string
	// Since is the time of day it was raised, For how long it has stood.
	Since, For string
	First      bool

	level engine.Level
	since time.Duration
}

// eventRow is one alarm that came or went.
type eventRow struct {
	Clock, What, Tone, Level, Title string
	// Detail is the value and the limit at that moment.
	Detail string
	Raised bool
	First  bool
}

// shownEvents is what fits under the page without making it endless; the rest
// is in the JSON and in the record.
const shownEvents = 12

// alarmRows returns the standing alarms, worst first, then the one that came
// first.
func alarmRows(snap *snapshot.Snapshot) []alarmRow {
	var out []alarmRow
	for i := range snap.Verdicts.Alarms {
		st := &snap.Verdicts.Alarms[i]
		if !st.Active {
			continue
		}
		t := words.Alarm(engine.AlarmID(i))
		ago := snap.Mono - st.Since
		row := alarmRow{
			Tone: tone(st.Level), Level: st.Level.Words(), Title: t.Title, Consequence: t.Consequence, Action: t.Action,
			Since: clock(snap.Wall.Add(-ago)), For: lasting(ago.Seconds()), First: st.FirstOut,
			level: st.Level, since: st.Since,
		}
		if r, ok := engine.AlarmID(i).Rule(); ok {
			row.Looks, row.Then = words.Cause(snap.Verdicts.Rules[r].Cause)
			row.shorten(snap, engine.AlarmID(i), r)
		}
		out = append(out, row)
	}
	sort.SliceStable(out, func(i, k int) bool {
		a, b := &out[i], &out[k]
		switch {
		case a.level != b.level:
			return a.level > b.level
		case a.First != b.First:
			return a.First
		}
		return a.since < b.since
	})
	return out
}

// shorten takes the advice from a limit's first stage where its second stands:
// the two would say different things about one trouble.
func (row *alarmRow) shorten(snap *snapshot.Snapshot, id engine.AlarmID, r engine.RuleID) {
	if id == engine.WarnAlarm(r) && snap.Verdicts.Alarms[engine.ActAlarm(r)].Active {
		row.Action, row.Consequence, row.Looks, row.Then = "", "", "", ""
	}
}

// eventRows returns the newest events, newest first.
func (s *server) eventRows(sys units.System) []eventRow {
	evs := s.feed.Events(0)
	evs = evs[max(0, len(evs)-shownEvents):]
	out := make([]eventRow, 0, len(evs))
	for i := len(evs) - 1; i >= 0; i-- {
		e := &evs[i]
		row := eventRow{
			Clock: clock(e.Wall), What: "went back", Tone: tone(e.Level), Level: e.Level.Words(),
			Title: words.Alarm(e.Alarm).Title, Raised: e.Raised, First: e.Raised && e.First,
		}
		if e.Raised {
			row.What = "came up"
		}
		if r, ok := e.Alarm.Rule(); ok {
			q := r.Spec().Quantity
			row.Detail = show(q, sys, e.Value) + ", limit " + show(q, sys, e.Limit)
		} else {
			row.Detail = e.Status.Words()
		}
		out = append(out, row)
	}
	return out
}
