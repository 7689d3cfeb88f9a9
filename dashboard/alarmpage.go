package dashboard

import (
	"net/http"

	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/words"
)

// alarmView is the page of one alarm: what it means, and what can be done to
// it without being hurried by a page that reloads.
type alarmView struct {
	chrome
	Clock string
	Row   alarmRow
	// Now says how it stands when it is normal; empty otherwise.
	Now string
	// Rule is its rule's name for the link into the handbook; empty without.
	Rule string
}

// refusedView is the page that says why an act was not done.
type refusedView struct {
	chrome
	Text string
}

func (s *server) alarmPage(w http.ResponseWriter, r *http.Request) {
	id, ok := engine.AlarmByName(r.PathValue("name"))
	if !ok {
		s.refusePage(w, r, http.StatusNotFound, "There is no alarm of that name.")
		return
	}
	v := &alarmView{Row: plainRow(id), Now: "Nothing has been read yet."}
	v.chrome = s.chrome(r, v.Row.Title, placeLive)
	v.CanUnits = true
	if snap := s.feed.Latest(); snap != nil {
		v.Clock, v.Now = clock(snap.Wall), "It does not stand now."
		if snap.Verdicts.Alarms[id].Phase != alarm.Normal {
			v.Now, v.Row = "", s.alarmRow(snap, id, s.prefsOf(r).Units)
		}
	}
	if s.opt.Handbook != nil {
		v.Rule = "sensors"
		if rule, ok := id.Rule(); ok {
			v.Rule = rule.String()
		}
	}
	s.write(w, r, "alarm.html", v)
}

// plainRow is an alarm of which nothing is known but its words.
func plainRow(id engine.AlarmID) alarmRow {
	t := words.Alarm(id)
	return alarmRow{Name: id.String(), Tone: "normal", Title: t.Title, Cause: t.Cause, Consequence: t.Consequence, Action: t.Action}
}
