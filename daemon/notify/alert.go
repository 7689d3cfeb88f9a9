package notify

import (
	"maps"
	"strconv"
	"time"

	"headroom/rules/engine"
)

// alert is one alert of the Alertmanager's API v2 (postableAlert in its
// api/v2/openapi.yaml).
type alert struct {
	Labels       map[string]string `json:"labels"`
	Annotations  map[string]string `json:"annotations"`
	StartsAt     time.Time         `json:"startsAt"`
	EndsAt       time.Time         `json:"endsAt"`
	GeneratorURL string            `json:"generatorURL,omitempty"`
}

// identity are the labels that make an alert the same one each time it comes:
// nothing that changes while it stands may be among them.
func identity(n *Notification) map[string]string {
	l := map[string]string{
		"alertname": n.Alarm.String(), "job": "headroom", "machine": n.Machine, "severity": n.Level.String(),
	}
	if r, ok := n.Alarm.Rule(); ok {
		l["rule"], l["stage"] = r.String(), "warn"
		if n.Alarm == engine.ActAlarm(r) {
			l["stage"] = "act"
		}
	}
	if c, ok := n.Alarm.Channel(); ok {
		l["channel"] = c.String()
	}
	return l
}

// alert returns a notification as an alert. One that stands ends after Hold
// from now unless it is heard of again; one that has returned has ended.
func (a *Alertmanager) alert(n *Notification) alert {
	out := alert{
		Labels: identity(n), Annotations: annotations(n), GeneratorURL: n.Dashboard,
		StartsAt: a.server(n.onset), EndsAt: a.server(n.at),
	}
	maps.Copy(out.Labels, a.labels)
	if n.State == Raised {
		out.EndsAt = a.server(time.Now().Add(a.hold))
	}
	if out.StartsAt.After(out.EndsAt) {
		out.StartsAt = out.EndsAt // the server refuses an alert that ends first
	}
	return out
}

func annotations(n *Notification) map[string]string {
	all := map[string]string{
		"summary":     n.Machine + ": " + n.Words.Title,
		"description": n.Words.Consequence + " " + n.Words.Action,
		"title":       n.Words.Title, "cause": n.Words.Cause, "consequence": n.Words.Consequence, "action": n.Words.Action,
		"looks_like": n.LooksLike, "do": n.Do,
		"value": n.text(n.Value), "limit": n.text(n.Limit), "sensor": n.sensor(),
		"value_si": n.si(n.Value), "limit_si": n.si(n.Limit),
		"machine_state": n.MachineState.String(), "first_out": strconv.FormatBool(n.FirstOut),
		"onset_mono_s": seconds(n.OnsetMono), "mono_s": seconds(n.Mono), "clock": n.Clock.String(),
	}
	if !n.Wall.IsZero() {
		all["onset_wall"] = n.OnsetWall.UTC().Format(time.RFC3339Nano)
		all["wall"] = n.Wall.UTC().Format(time.RFC3339Nano)
	}
	maps.DeleteFunc(all, func(_, v string) bool { return v == "" })
	return all
}

// si returns a number in SI with its unit, empty for what isn't known.
func (n *Notification) si(a Amount) string {
	x := n.amount(a)
	switch {
	case x == nil:
		return ""
	case x.Unit == "":
		return strconv.FormatFloat(x.SI, 'g', -1, 64)
	}
	return strconv.FormatFloat(x.SI, 'g', -1, 64) + " " + x.Unit
}

func seconds(d time.Duration) string { return strconv.FormatFloat(d.Seconds(), 'f', -1, 64) }

// server returns what the server's clock says at a moment of ours. Both ages
// come from the monotonic clock.
func (a *Alertmanager) server(t time.Time) time.Time {
	return a.serverAt.Add(t.Sub(a.localAt)).UTC()
}

// setClock learns the server's clock from the Date of an answer. Date counts
// whole seconds, so a small difference is no news; without a Date our own clock
// must do, and with one that is no clock's, too: a time after the year 9999 can't
// be written in JSON, and the alarm would be given up.
func (a *Alertmanager) setClock(date time.Time) {
	now := time.Now()
	if y := date.Year(); y < 1970 || y > 2200 {
		date = time.Time{}
	}
	known := !a.serverAt.IsZero()
	switch {
	case date.IsZero() && known:
	case date.IsZero():
		a.serverAt, a.localAt = now.Round(0), now
	case !known || a.server(now).Sub(date).Abs() > 2*time.Second:
		a.serverAt, a.localAt = date, now
	}
}
