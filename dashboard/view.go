package dashboard

import (
	"strings"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/machine"
	"headroom/rules/units"
	"headroom/rules/words"
)

// view is the live page in words and numbers, ready for the templates, which
// compute nothing.
type view struct {
	MachineName, Version, Source string
	// Loaded is when the page was made, for paper.
	Loaded              string
	Units               string
	Nav                 []navLink
	Window              int // minutes
	StreamURL, TrendURL string
	// ShortURL and LongURL choose the length of the charts and keep the rest.
	ShortURL, LongURL string
	Seq               uint64

	Head     headView
	Answer   answerView
	Limits   []limitRow
	Idle     []idleRow
	Alarms   []alarmRow
	System   []systemRow
	Channels []channelRow
	Unfitted string
	Events   []eventRow
	Charts   []chartView
	Notices  []string

	// Calling counts the alarms that ask for a person; Loudest is the one that
	// asks most, nil for none, and CallLevel how loud: what is over is no more
	// than an advice.
	Calling   int
	CallLevel string
	Loudest   *alarmRow
	// ToReset is the first alarm that waits for its reset while none calls.
	ToReset *alarmRow
	// AckAll names the alarms that one tap acknowledges together; empty for
	// fewer than two.
	AckAll []string
	// CanAct is false on a read-only page. Who is the name that this browser
	// remembers.
	CanAct      bool
	Who         string
	HasHandbook bool
}

// headView is what the machine is doing and as of when.
type headView struct {
	State, For, Clock string
	// Old is true when the snapshot is too old to be called now.
	Old bool
	Age string
	// Run says how far into which run that is; empty between runs.
	Run string
}

// view makes the page of the latest snapshot.
func (s *server) view(p prefs) *view {
	v := &view{
		MachineName: s.opt.MachineName, Version: s.opt.Version, Source: s.opt.Source, Units: p.Units.String(), Loaded: began(s.opt.Now()),
		Window: int(p.Window / time.Minute), StreamURL: streamURL(p), TrendURL: trendURL(p),
		ShortURL: pageURL(p.unitsQuery), LongURL: pageURL(p.unitsQuery, "window=10"), CanAct: s.opt.Acts != nil, HasHandbook: s.opt.Handbook != nil,
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
	v.Alarms, v.System = s.alarmRows(snap, p.Units), systemRows(snap)
	v.call(snap)
	v.Channels, v.Unfitted = s.channelRows(snap, p.Units)
	v.Events = s.eventRows(p.Units)
	v.Notices = notices(snap)
	v.Answer = s.answer(snap, v, p.Units)
	return v
}

// call fills in what asks for a person. What nobody acts on can still call.
func (v *view) call(snap *snapshot.Snapshot) {
	v.Calling = snap.Verdicts.Calling
	rows := callingRows(v.Alarms)
	if len(rows) == 0 {
		v.ToReset = firstToReset(v.Alarms)
		return
	}
	v.Loudest, v.CallLevel = rows[0], snap.Verdicts.CallLevel().String()
	if len(rows) < 2 || !v.CanAct {
		return
	}
	for _, r := range rows {
		v.AckAll = append(v.AckAll, r.Name)
	}
}

// firstToReset is the first row at the top that a person may reset.
func firstToReset(rows []alarmRow) *alarmRow {
	for i := range rows {
		if rows[i].Can.Reset {
			return &rows[i]
		}
	}
	return nil
}

func streamURL(p prefs) string { return "/api/v1/stream?view=page&" + chartQuery(p) }

func trendURL(p prefs) string { return "/api/v1/trend?" + chartQuery(p) }

// chartQuery asks for a person's units and length of the charts.
func chartQuery(p prefs) string {
	q := "units=" + p.Units.String()
	if p.Window == longWindow {
		q += "&window=10"
	}
	return q
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
		Run:   intoRun(snap, snap.Mono),
	}
}

// intoRun says how far into the run that goes on a moment lies; empty before it.
func intoRun(snap *snapshot.Snapshot, at time.Duration) string {
	h := &snap.Health
	if h.Run == "" || at < h.RunBegan {
		return ""
	}
	return lasting((at - h.RunBegan).Seconds()) + " into run " + h.Run
}

// clock writes the time of day. A board without a battery clock starts years
// back until it hears from a network: then no time is better than a wrong one.
func clock(t time.Time) string {
	if !clockSet(t) {
		return "clock not set"
	}
	return t.Format("15:04:05")
}

// clockTenth is a time of day fine enough to tell which alarm came first.
func clockTenth(t time.Time) string {
	if !clockSet(t) {
		return "clock not set"
	}
	return t.Format("15:04:05.0")
}

func clockSet(t time.Time) bool { return t.Year() >= 2025 }

// notices are troubles of the daemon itself that a person must know of.
func notices(snap *snapshot.Snapshot) []string {
	var out []string
	h := &snap.Health
	for _, a := range h.System {
		out = append(out, a.ID.Text().Title+": "+a.Status)
	}
	if h.RecordError != "" && len(h.System) == 0 {
		out = append(out, "Not being recorded: "+h.RecordError)
	}
	if snap.Verdicts.Flood {
		out = append(out, "Alarm flood: more alarms in 10 minutes than anybody can take in. If in doubt, stop the machine; then start with the one that came first.")
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

// amount writes a rule's value or limit: a word where it is a grade.
func amount(r engine.RuleID, sys units.System, v float64) string {
	if word, ok := words.Grade(r, v); ok {
		return word
	}
	return show(r.Spec().Quantity, sys, v)
}
