package dashboard

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/units"
	"headroom/rules/words"
)

// alarmRow is one alarm that is not normal.
type alarmRow struct {
	// Name as it stands in addresses.
	Name                              string
	Tone, Level                       string
	Title, Consequence, Cause, Action string
	// Trip is when the breaker trips, where that is what it is about.
	Trip string
	// Looks is what the readings point to, and Then what to do about that;
	// empty where they point to nothing.
	Looks, Then string
	// Phase names the phase for style and shape, PhaseWords for people.
	Phase, PhaseWords string
	// When says since when it stands, or when it went; For how long that is.
	When, For string
	// First says which alarm came first and when; empty where it was not this
	// one nor one under it.
	First string
	// Later is its number and delay after the first; empty for the first.
	Later string
	// Moment holds all readings of when it came first.
	Moment         []momentRow
	Chatter, Calls bool
	// Stage is true for the first stage of the alarm that it stands under.
	Stage bool
	// Under are the alarms that follow from it.
	Under []alarmRow
	// Can holds what a person may do to it; all false on a read-only page.
	Can abilities

	id         engine.AlarmID
	level      engine.Level
	active     bool
	aside      bool
	since      time.Duration
	onset      time.Duration
	cameFirst  bool
	firstWords string
}

// abilities are the acts that mean something in an alarm's phase.
type abilities struct{ Acknowledge, Reset, Shelve, Unshelve, PutBack bool }

// Any reports whether there is anything to do.
func (a abilities) Any() bool { return a.Acknowledge || a.Reset || a.Shelve || a.Unshelve || a.PutBack }

func abilitiesIn(p alarm.Phase) abilities {
	return abilities{
		Acknowledge: calls(p), Reset: p == alarm.LatchedAcknowledged, Unshelve: p == alarm.Shelved, PutBack: p == alarm.OutOfService,
		Shelve: p == alarm.Unacknowledged || p == alarm.Acknowledged || p == alarm.Returned,
	}
}

// alarmRows returns the alarms that are not normal, each under its cause: what
// stands before what was put aside, worst first, then the one that came first.
func (s *server) alarmRows(snap *snapshot.Snapshot, sys units.System) []alarmRow {
	var under [engine.NumAlarms][]alarmRow
	var roots []alarmRow
	for i := range snap.Verdicts.Alarms {
		st := &snap.Verdicts.Alarms[i]
		if st.Phase == alarm.Normal {
			continue
		}
		row := s.alarmRow(snap, engine.AlarmID(i), sys)
		if st.HasCause && listed(snap, st.Under) {
			under[st.Under] = append(under[st.Under], row)
			continue
		}
		roots = append(roots, row)
	}
	sortRows(roots)
	for i := range roots {
		roots[i].fold(snap, under[roots[i].id])
	}
	return roots
}

// listed reports whether an alarm has a row of its own at the top: a
// consequence is never lost because its cause cannot be shown.
func listed(snap *snapshot.Snapshot, id engine.AlarmID) bool {
	if int(id) >= engine.NumAlarms {
		return false
	}
	st := &snap.Verdicts.Alarms[id]
	return st.Phase != alarm.Normal && !st.HasCause
}

// alarmRow makes one alarm's row, without what stands under it.
func (s *server) alarmRow(snap *snapshot.Snapshot, id engine.AlarmID, sys units.System) alarmRow {
	st := &snap.Verdicts.Alarms[id]
	t := words.Alarm(id)
	ago := snap.Mono - st.Since
	row := alarmRow{
		Name: id.String(), Tone: tone(st.Level), Level: st.Level.Words(), Title: t.Title, Consequence: t.Consequence, Cause: t.Cause, Action: t.Action,
		Phase: strings.ReplaceAll(st.Phase.String(), "_", "-"), PhaseWords: phaseWords(snap, st), Calls: calls(st.Phase), Chatter: st.Chatter,
		When: "since " + clock(snap.Wall.Add(-ago)) + ", " + lasting(ago.Seconds()), For: lasting(ago.Seconds()),
		id: id, level: st.Level, active: st.Active, aside: st.Phase == alarm.Shelved || st.Phase == alarm.OutOfService,
		since: st.Since, onset: st.Onset, cameFirst: st.FirstOut,
	}
	if !st.Active {
		row.Level = "Was: " + row.Level
		row.When = "returned to normal " + clock(snap.Wall.Add(-ago)) + ", " + lasting(ago.Seconds()) + " ago"
	}
	if st.FirstOut {
		row.firstWords = "at " + clockTenth(snap.Wall.Add(st.Onset-snap.Mono)) + intoRunTenth(snap, st.Onset)
		row.First = "1st: came first, " + row.firstWords
		row.Moment = momentOf(s.feed.Events(0), id, sys)
	}
	row.Later = laterWords(snap, id)
	if s.opt.Acts != nil {
		row.Can = abilitiesIn(st.Phase)
	}
	if r, ok := id.Rule(); ok && st.Active {
		v := &snap.Verdicts.Rules[r]
		row.Looks, row.Then = words.Cause(v.Cause)
		row.Action = withTurnDown(r, row.Action, &snap.Verdicts)
		row.Trip = tripWords(r, &snap.Verdicts)
	}
	return row
}

// phaseWords is the phase for people, with the end of a shelving.
func phaseWords(snap *snapshot.Snapshot, st *engine.Standing) string {
	if st.Phase != alarm.Shelved {
		return st.Phase.Words()
	}
	end := snap.Wall.Add(st.ShelvedUntil - snap.Mono)
	if !clockSet(end) {
		return "shelved for " + lasting((st.ShelvedUntil - snap.Mono).Seconds()) + " more"
	}
	return "shelved until " + end.Format("15:04")
}

// fold puts consequences under their cause. What the cause alone can't say is
// said at the top: which of them came first, and when the breaker trips.
func (row *alarmRow) fold(snap *snapshot.Snapshot, under []alarmRow) {
	sortRows(under)
	own, _ := row.id.Rule()
	for i := range under {
		u := &under[i]
		if r, ok := u.id.Rule(); ok && r == own {
			u.Stage = true
		}
		if u.cameFirst {
			row.First = "first: " + u.Title + ", " + u.firstWords
		}
		if row.Trip == "" {
			row.Trip = u.Trip
		}
	}
	row.Under = under
}

func sortRows(rows []alarmRow) {
	sort.SliceStable(rows, func(i, k int) bool {
		a, b := &rows[i], &rows[k]
		switch {
		case a.aside != b.aside:
			return b.aside
		case a.active != b.active && !a.aside:
			return a.active
		case a.level != b.level:
			return a.level > b.level
		case a.cameFirst != b.cameFirst:
			return a.cameFirst
		case a.since != b.since:
			return a.since < b.since
		}
		return a.id < b.id
	})
}

// callingRows returns the rows at the top that ask for a person, in the order
// of the list: what stands before what is over.
func callingRows(rows []alarmRow) []*alarmRow {
	var out []*alarmRow
	for i := range rows {
		if rows[i].Calls {
			out = append(out, &rows[i])
		}
	}
	return out
}

// intoRunTenth says to a tenth of a second how far into its run an alarm came.
func intoRunTenth(snap *snapshot.Snapshot, onset time.Duration) string {
	h := &snap.Health
	if h.Run == "" || onset < h.RunBegan {
		return ""
	}
	tenths := int64((onset - h.RunBegan) / (100 * time.Millisecond))
	if tenths < 600 {
		return fmt.Sprintf(", %d.%d s into run %s", tenths/10, tenths%10, h.Run)
	}
	return fmt.Sprintf(", %d min %02d.%d s into run %s", tenths/600, tenths/10%60, tenths%10, h.Run)
}
