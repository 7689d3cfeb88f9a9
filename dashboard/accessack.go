package dashboard

import (
	"net/http"
	"strings"

	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/words"
)

// pendingAck is an alarm that somebody acknowledged without a session. The PIN's
// page names it and the PIN then does it, so that no tap is lost while it
// counts. Nothing else is carried over: it might mean another thing by then.
type pendingAck struct{ Name, Title string }

// acksOf are the alarms that a turned away request would have acknowledged, or
// that the PIN's page carries as "ack". What is no alarm is left out.
func acksOf(r *http.Request) (out []pendingAck) {
	_ = r.ParseForm() // what can't be read carries nothing
	names := r.Form["ack"]
	path := strings.TrimPrefix(strings.TrimPrefix(r.URL.Path, "/api/v1"), "/alarms/")
	if name, ok := strings.CutSuffix(path, "/"+alarm.Acknowledge.String()); ok && r.Method == http.MethodPost {
		names = []string{name}
		if name == allAlarms {
			names = r.PostForm["alarm"]
		}
	}
	for _, n := range names {
		if id, ok := engine.AlarmByName(n); ok && len(out) < engine.NumAlarms {
			out = append(out, pendingAck{n, words.Alarm(id).Title})
		}
	}
	return out
}

// acknowledgePending does what waited for the PIN.
func (s *server) acknowledgePending(r *http.Request, acks []pendingAck) *refusal {
	r.SetPathValue("act", alarm.Acknowledge.String())
	r.SetPathValue("name", allAlarms)
	r.Form.Del("alarm")
	for _, a := range acks {
		r.Form.Add("alarm", a.Name)
	}
	_, no := s.act(r)
	return no
}
