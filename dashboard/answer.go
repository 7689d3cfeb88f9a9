package dashboard

import (
	"fmt"
	"strings"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/units"
	"headroom/rules/words"
)

// answerView is what a person sees from two metres away in one second.
type answerView struct {
	Tone, Word string
	// Title and Action of the alarm that matters most, and how long it has
	// stood; empty without one.
	Title, Action, For string
	// Looks is what the readings point to, Then what to do about that, Trip
	// when the breaker trips.
	Looks, Then, Trip string
	// Verb is the action in the few words that are read from two metres.
	Verb string
	// Phase of that alarm, for its shape and in words.
	Phase, PhaseWords string
	Calls             bool
	More, Aside       string
	// Blind counts the limits that should judge and can't; nil for none. It
	// takes the place of the large figure unless an alarm stands on a limit of its
	// own: what nobody sees is nearer than what has room.
	Blind *blindCount
	// Nearest limit with its headroom and the time to it; while an alarm stands
	// that has a limit of its own, that one, and Own is true.
	Nearest  *limitRow
	Own      bool
	NoTime   string
	Coverage string
}

// blindCount is how many limits cannot be judged, of all that are switched on.
type blindCount struct{ N, Of int }

func answerBeforeFirstTick() answerView {
	return answerView{Tone: "unknown", Word: "No reading yet", Action: "Nothing is being watched until the first readings arrive.", Coverage: "0 limits watching"}
}

// answer chooses what to say: old data first, since nothing else is then
// true; then the worst alarm; then what cannot be seen; then what is nearest.
func (s *server) answer(snap *snapshot.Snapshot, v *view, sys units.System) answerView {
	a := answerView{Coverage: coverage(&snap.Verdicts), Aside: asideNote(v.Alarms)}
	if len(v.Limits) > 0 {
		a.nearest(v.Limits)
	}
	switch {
	case v.Head.Old:
		return answerView{Tone: "unknown", Word: "Readings are old", Title: "The last reading is " + v.Head.Age + " old",
			Action: "Do not rely on this page. Look at the machine.", Coverage: a.Coverage, Aside: a.Aside}
	case stands(v.Alarms):
		a.alarm(v.Alarms)
		a.own(&v.Alarms[0], v.Limits)
		a.headline(v.Alarms[0].level, snap.Verdicts.Blind)
	case waits(v.Alarms):
		a.over(v.Alarms, snap.Verdicts.Blind)
	case snap.Verdicts.Blind > 0:
		a.headline(engine.Normal, snap.Verdicts.Blind)
	case watching(&snap.Verdicts) == 0:
		a.Tone, a.Word = "unknown", "No limit is watched"
		if !snap.Verdicts.Machine.Turning() && len(v.Idle) > 0 && onlyNotNow(&snap.Verdicts) {
			a.Tone, a.Word = "normal", sentence(snap.Verdicts.Machine.Words())
			a.Coverage = "Limits are watched once the pump runs."
		}
	case a.Nearest != nil && a.Nearest.Bar.Over:
		a.Tone, a.Word = "watch", "Limit passed"
	default:
		a.headline(engine.Normal, 0)
	}
	if n := snap.Verdicts.Blind; n > 0 {
		a.Blind = &blindCount{n, switchedOn(&snap.Verdicts)}
	}
	return a
}

// headline takes the words for a level and the limits that cannot be judged;
// the tone goes with the words.
func (a *answerView) headline(l engine.Level, blind int) {
	a.Tone, a.Word = tone(l), words.Headline(l, blind)
	if blind > 0 && l < engine.Warning {
		a.Tone = "unknown"
	}
}

// stands reports whether an alarm's condition stands and nobody put it aside;
// such alarms come first.
func stands(rows []alarmRow) bool { return len(rows) > 0 && rows[0].active && !rows[0].aside }

// waits reports whether an alarm is over but waits for a person.
func waits(rows []alarmRow) bool { return len(rows) > 0 && !rows[0].aside }

func (a *answerView) alarm(rows []alarmRow) {
	top := &rows[0]
	a.take(top)
	a.Verb = farVerb(top.Action)
	a.Looks, a.Then, a.Trip, a.For = top.Looks, top.Then, top.Trip, top.For
	more := 0
	for i := range rows[1:] {
		if r := &rows[1+i]; r.active && !r.aside {
			more++
		}
	}
	a.note(more, "1 more alarm stands", "%d more alarms stand")
	a.note(len(top.Under), "1 follows from it", "%d follow from it")
}

// over is said when nothing stands any more, but something that stood waits
// for a person. The first line is that it waits: while it does nobody calls it
// well, and the tone stays that of something to look at.
func (a *answerView) over(rows []alarmRow, blind int) {
	top := &rows[0]
	a.take(top)
	a.Tone, a.Word = "watch", overWord(top)
	a.Title, a.Action = "It is over: "+top.Title, "Nobody has acknowledged it. Find out why it came before you go on."
	if !top.Calls {
		a.Action = "Reset it once you know what it was."
	}
	switch {
	case blind > 0:
		a.Tone = "unknown"
	case a.Nearest != nil && a.Nearest.Bar.Over:
		a.Word = "Limit passed"
	}
	a.note(len(rows)-1, "1 more is listed", "%d more are listed")
}

// overWord says what an alarm waits for whose condition is gone.
func overWord(row *alarmRow) string {
	if row.Calls {
		return "Not acknowledged"
	}
	return "Waits for its reset"
}

func (a *answerView) take(row *alarmRow) {
	a.Title, a.Action, a.Phase, a.PhaseWords, a.Calls = row.Title, row.Action, row.Phase, row.PhaseWords, row.Calls
}

// note adds a count, where it is one.
func (a *answerView) note(n int, one, many string) {
	text := one
	switch {
	case n <= 0:
		return
	case n > 1:
		text = fmt.Sprintf(many, n)
	}
	if a.More != "" {
		a.More += " · "
	}
	a.More += text
}

// asideNote counts what people put aside: it must not be forgotten while all
// looks well.
func asideNote(rows []alarmRow) string {
	shelved, out := 0, 0
	for i := range rows {
		switch rows[i].Phase {
		case "shelved":
			shelved++
		case "out-of-service":
			out++
		}
	}
	var parts []string
	if shelved > 0 {
		parts = append(parts, fmt.Sprintf("%d shelved", shelved))
	}
	if out > 0 {
		parts = append(parts, fmt.Sprintf("%d out of service", out))
	}
	return strings.Join(parts, " · ")
}

// nearest takes the first limit that has a distance. One that knows only yes
// and no is never near; it is said once it is passed.
func (a *answerView) nearest(rows []limitRow) {
	for i := range rows {
		if rows[i].Reason == "" && (rows[i].distance || rows[i].Bar.Over) {
			a.show(&rows[i])
			return
		}
	}
}

// farVerb is an action in a few words; empty where it has none that few.
func farVerb(action string) string {
	for _, verb := range []struct{ in, few string }{
		{"stop the pump", "Stop the pump"}, {"Release the trigger and stop.", "Stop the pump"}, {"urn the unloader down", "Unloader down"},
		{"Look at the gauge", "Look at the gauge"}, {"Release the trigger", "Let go the trigger"},
	} {
		if strings.Contains(action, verb.in) {
			return verb.few
		}
	}
	return ""
}

// own puts the standing alarm's own limit in the place of the nearest: what is
// asked for must be seen on the gauge that it is about.
func (a *answerView) own(top *alarmRow, rows []limitRow) {
	r, ok := top.id.Rule()
	for i := range rows {
		if ok && rows[i].rule == r && rows[i].Reason == "" {
			a.show(&rows[i])
			a.Own = true
		}
	}
}

func (a *answerView) show(row *limitRow) {
	a.Nearest, a.NoTime = row, ""
	switch {
	case row.Bar.Over:
		a.NoTime = "limit passed"
	case row.Time == "":
		a.NoTime = "no clear trend to it"
	}
}

// coverage counts what is watched out of what is switched on.
func coverage(vd *engine.Verdicts) string {
	return fmt.Sprintf("%d of %d limits watching", watching(vd), switchedOn(vd))
}

func switchedOn(vd *engine.Verdicts) int {
	n := 0
	for i := range vd.Rules {
		if vd.Rules[i].Judge != engine.SwitchedOff {
			n++
		}
	}
	return n
}

func watching(vd *engine.Verdicts) int {
	n := 0
	for i := range vd.Rules {
		if vd.Rules[i].Judge.Answers() {
			n++
		}
	}
	return n
}

// onlyNotNow reports whether every rule that could judge has nothing to judge
// in this state, which is no lack.
func onlyNotNow(vd *engine.Verdicts) bool {
	any := false
	for i := range vd.Rules {
		switch vd.Rules[i].Judge {
		case engine.NotNow:
			any = true
		case engine.NotFitted, engine.NotSet, engine.SwitchedOff:
		default:
			return false
		}
	}
	return any
}
