package dashboard

import (
	"strings"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/machine"
	"headroom/rules/units"
)

// view is the live page in words and numbers, ready for the templates, which
// compute nothing.
type view struct {
	MachineName, Version string
	Units                string
	Window               int // minutes
	StreamURL            string
	// ShortURL and LongURL choose the length of the charts and keep the rest.
	ShortURL, LongURL string
	Seq               uint64

	Head     headView
	Answer   answerView
	Limits   []limitRow
	Idle     []idleRow
	Alarms   []alarmRow
	Channels []channelRow
	Unfitted string
	Events   []eventRow
	Charts   []chartView
	Notices  []string
}

// headView is what the machine is doing and as of when.
type headView struct {
	State, For, Clock string
	// Old is true when the snapshot is too old to be called now.
	Old bool
	Age string
}

// view makes the page of the latest snapshot.
func (s *server) view(p prefs) *view {
	v := &view{
		MachineName: s.opt.MachineName, Version: s.opt.Version, Units: p.Units.String(),
		Window: int(p.Window / time.Minute), StreamURL: streamURL(p),
		ShortURL: pageURL(p.unitsQuery), LongURL: pageURL(p.unitsQuery, "window=10"),
	}
	snap := s.feed.Latest()
	if snap == nil {
		v.Head = headView{State: "no reading yet"}
		v.Answer = answerBeforeFirstTick()
		return v
	}
	v.Seq = snap.Seq
	v.Head = s.headView(snap)
	v.Limits, v.Idle = s.limitRows(snap, p.Units)
	v.Alarms = alarmRows(snap)
	v.Channels, v.Unfitted = channelRows(snap, p.Units)
	v.Events = s.eventRows(p.Units)
	v.Notices = notices(snap)
	v.Answer = s.answer(snap, v, p.Units)
	return v
}

func streamURL(p prefs) string {
	u := "/api/v1/stream?view=page&units=" + p.Units.String()
	if p.Window == longWindow {
		u += "&window=10"
	}
	return u
}

// pageURL returns the address of the charts with those wishes that are any.
func pageURL(wishes ...string) string {
	q := strings.Trim(strings.Join(wishes, "&"), "&")
	if q == "" {
		return "/#h-charts"
	}
	return "/?" + q + "#h-charts"
}

func (s *server) headView(snap *snapshot.Snapshot) headView {
	vd := &snap.Verdicts
	age := s.age(snap)
	return headView{
		State: vd.Machine.Words(),
		For:   lasting((snap.Mono - vd.MachineSince).Seconds()),
		Clock: clock(snap.Wall),
		Old:   age > oldAfter,
		Age:   lasting(age.Seconds()),
	}
}

// clock writes the time of day. A board without a battery clock starts years
// back until it hears from a network: then no time is better than a wrong one.
func clock(t time.Time) string {
	if t.Year() < 2025 {
		return "clock not set"
	}
	return t.Format("15:04:05")
}

// notices are troubles of the daemon itself that a person must know of.
func notices(snap *snapshot.Snapshot) []string {
	var out []string
	h := &snap.Health
	if h.RecordError != "" {
		out = append(out, "Not being recorded: "+h.RecordError)
	}
	if snap.Verdicts.Machine == machine.Unknown {
		out = append(out, "What the machine is doing cannot be told: no channel that shows it is good.")
	}
	return out
}

// tone is a severity as the style sheet and the icons name it.
func tone(l engine.Level) string {
	switch l {
	case engine.Act, engine.Warning, engine.Advice:
		return l.String()
	}
	return "normal"
}

// show writes a value with its unit.
func show(q units.Quantity, sys units.System, v float64) string { return units.Format(q, sys, v) }
