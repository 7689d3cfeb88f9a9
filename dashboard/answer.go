package dashboard

import (
	"fmt"

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
	// Looks is what the readings point to.
	Looks string
	First bool
	More  string
	// Nearest limit with its headroom and the time to it.
	Nearest             *limitRow
	NoTime              string
	Coverage, BlindNote string
}

func answerBeforeFirstTick() answerView {
	return answerView{Tone: "unknown", Word: "No reading yet", Action: "Nothing is being watched until the first readings arrive.", Coverage: "0 limits watching"}
}

// answer chooses what to say: old data first, since nothing else is then
// true; then the worst alarm; then what cannot be seen; then what is nearest.
func (s *server) answer(snap *snapshot.Snapshot, v *view, sys units.System) answerView {
	a := answerView{Coverage: coverage(&snap.Verdicts)}
	if len(v.Limits) > 0 {
		a.nearest(v.Limits)
	}
	switch {
	case v.Head.Old:
		return answerView{Tone: "unknown", Word: "Readings are old", Title: "The last reading is " + v.Head.Age + " old",
			Action: "Do not rely on this page. Look at the machine.", Coverage: a.Coverage}
	case len(v.Alarms) > 0:
		a.alarm(v.Alarms)
		a.headline(v.Alarms[0].level, snap.Verdicts.Blind)
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
		a.BlindNote = fmt.Sprintf("%d cannot be judged", n)
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

func (a *answerView) alarm(rows []alarmRow) {
	top := &rows[0]
	a.Title, a.Action, a.Looks, a.For, a.First = top.Title, top.Action, top.Looks, top.For, top.First
	if n := len(rows) - 1; n == 1 {
		a.More = "1 more alarm stands"
	} else if n > 1 {
		a.More = fmt.Sprintf("%d more alarms stand", n)
	}
}

// nearest takes the first limit that has a number.
func (a *answerView) nearest(rows []limitRow) {
	for i := range rows {
		if rows[i].Reason != "" {
			continue
		}
		a.Nearest = &rows[i]
		switch {
		case rows[i].Bar.Over:
			a.NoTime = "limit passed"
		case rows[i].Time == "":
			a.NoTime = "no clear trend to it"
		}
		return
	}
}

// coverage counts what is watched out of what is switched on.
func coverage(vd *engine.Verdicts) string {
	n, of := watching(vd), 0
	for i := range vd.Rules {
		if vd.Rules[i].Judge != engine.SwitchedOff {
			of++
		}
	}
	return fmt.Sprintf("%d of %d limits watching", n, of)
}

func watching(vd *engine.Verdicts) int {
	n := 0
	for i := range vd.Rules {
		if vd.Rules[i].Judge == engine.Watching {
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
