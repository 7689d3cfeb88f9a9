package dashboard

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/words"
)

func actNames() string {
	var out []string
	for a := range alarm.NumActs {
		out = append(out, a.String())
	}
	return strings.Join(out, ", ")
}

// calls reports whether an alarm in this phase asks for a person.
func calls(p alarm.Phase) bool { return p.Calls() }

// verb is an act with its alarm as it follows "cannot".
func verb(a alarm.Act, id engine.AlarmID) string {
	title := "“" + words.Alarm(id).Title + "”"
	switch a {
	case alarm.Acknowledge, alarm.Reset, alarm.Shelve:
		return a.String() + " " + title
	case alarm.Unshelve:
		return "take " + title + " off the shelf"
	case alarm.TakeOut:
		return "take " + title + " out of service"
	case alarm.PutBack:
		return "put " + title + " back in service"
	}
	return "do that to " + title
}

// past is what an act did.
func past(d *engine.Did) string {
	switch d.Act {
	case alarm.Acknowledge:
		return "acknowledged"
	case alarm.Reset:
		return "reset"
	case alarm.Shelve:
		return "shelved for " + shelfWords(d.Shelf)
	case alarm.Unshelve:
		return "taken off the shelf"
	case alarm.TakeOut:
		return "taken out of service"
	case alarm.PutBack:
		return "put back in service"
	}
	return "changed"
}

// shelfWords writes a time that a person chose, which is round.
func shelfWords(d time.Duration) string {
	if d >= time.Hour && d%time.Hour == 0 {
		return fmt.Sprintf("%d h", d/time.Hour)
	}
	if d >= time.Minute && d%time.Minute == 0 {
		return fmt.Sprintf("%d min", d/time.Minute)
	}
	return lasting(d.Seconds())
}

// reasonAgainst says why an act means nothing in a phase.
func reasonAgainst(a alarm.Act, p alarm.Phase) string {
	if p == alarm.OutOfService && a != alarm.PutBack {
		if a == alarm.TakeOut {
			return "it is out of service already"
		}
		return "it is out of service; put it back first"
	}
	switch a {
	case alarm.Acknowledge:
		switch p {
		case alarm.Acknowledged, alarm.LatchedAcknowledged, alarm.Suppressed, alarm.Shelved:
			return "it is acknowledged already"
		}
		return "it has returned to normal, and nothing is left to acknowledge"
	case alarm.Reset:
		switch p {
		case alarm.Unacknowledged, alarm.Acknowledged, alarm.Suppressed:
			return "its condition still stands. Mend that first"
		case alarm.LatchedUnacknowledged:
			return "nobody has acknowledged it yet. Acknowledge it first"
		}
		return "it is not latched"
	case alarm.Shelve:
		return "it cannot be put aside for that long"
	case alarm.Unshelve:
		return "it is not shelved"
	case alarm.PutBack:
		return "it is not out of service"
	}
	return "the alarm is " + p.Words()
}

// doneText says in one line what was done.
func doneText(dids []engine.Did) string {
	if len(dids) == 1 {
		return words.Alarm(dids[0].Alarm).Title + ": " + past(&dids[0]) + "."
	}
	return fmt.Sprintf("%d alarms acknowledged.", len(dids))
}

func didObject(d *engine.Did) object {
	return object{
		"alarm": d.Alarm.String(), "title": words.Alarm(d.Alarm).Title, "act": d.Act.String(), "phase": d.Phase.String(),
		"uptime_seconds": d.T.Seconds(), "shelf_seconds": d.Shelf.Seconds(),
	}
}

func actObject(e *snapshot.ActEvent) object {
	o := didObject(&e.Did)
	o["id"], o["wall"], o["who"] = e.ID, e.Wall.UTC().Format(time.RFC3339Nano), e.Who
	return o
}

// actsJSON answers with what people did after an id, oldest first.
func (s *server) actsJSON(w http.ResponseWriter, r *http.Request) {
	after, ok := s.afterOf(w, r)
	if !ok {
		return
	}
	out := []object{}
	acts := since(after, s.feed.Acts, func(e *snapshot.ActEvent) uint64 { return e.ID })
	for i := range acts {
		out = append(out, actObject(&acts[i]))
	}
	s.writeJSON(w, http.StatusOK, object{"version": 1, "start": s.feed.Start(), "acts": out})
}
