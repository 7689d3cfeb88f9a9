package review

import (
	"time"

	"headroom/daemon/store"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/rules/words"
)

// tellActs tells what people, and the program on its own, did.
func (t *teller) tellActs() {
	for i := range t.acts {
		a := &t.acts[i]
		if a.What == store.CalibrationsInForce {
			continue // a state of things, which the report's head gives
		}
		s := say(KindAct, actWords(a))
		if act, ok := alarm.ActByName(a.What); ok && act == alarm.Acknowledge {
			t.howLate(s, a)
		} else if ok && act == alarm.Shelve && a.For > 0 {
			s.words(" for ").amount(units.Duration, a.For.Seconds())
		}
		if n := len(a.With); n > 0 {
			s.words(", and with it " + plural(n, "other alarm", "others"))
		}
		if a.Text != "" {
			s.words(": “" + a.Text + "”")
		}
		e := Evidence{Basis: OnAct, Channel: frame.NumChannels, From: a.T, To: a.T, N: a.N, Name: a.What}
		t.add(a.T, a.T, s.words(".").rests(e))
	}
}

var actVerbs = [alarm.NumActs]string{
	alarm.Acknowledge: "acknowledged", alarm.Reset: "reset", alarm.Shelve: "put aside", alarm.Unshelve: "took back what was put aside,",
	alarm.TakeOut: "took out of service", alarm.PutBack: "put back into service",
}

// actWords says who did what, to what.
func actWords(a *store.Act) string {
	who := a.Who
	if who == "" {
		who = "Somebody who gave no name"
	}
	act, ok := alarm.ActByName(a.What)
	switch {
	case ok && a.Alarm != "":
		return who + " " + actVerbs[act] + " “" + titleOf(a.Alarm) + "”"
	case a.Alarm != "":
		return who + ": " + a.What + ", “" + titleOf(a.Alarm) + "”"
	}
	return who + ": " + a.What
}

// howLate adds how long after its alarm an acknowledgement came.
func (t *teller) howLate(s *telling, act *store.Act) {
	for i := len(t.lives) - 1; i >= 0; i-- {
		if a := &t.lives[i]; a.Name == act.Alarm && a.Raised <= act.T {
			s.words(", ").amount(units.Duration, (act.T - a.Raised).Seconds()).words(" after it came").rests(onAlarm(a.Name, a.Raised))
			return
		}
	}
}

// maxTold bounds how many gaps are told one by one.
const maxTold = 20

func (t *teller) tellGaps() {
	for i := range t.walked.gaps {
		g := &t.walked.gaps[i]
		if i == maxTold {
			n := t.walked.absent.count - i
			t.add(g.From, t.head.To, say(KindGap, "There are "+plural(n, "further gap", "further gaps")+" after this one.").
				rests(Evidence{Basis: OnRecord, Channel: frame.NumChannels, From: g.From, To: t.head.To, Name: "gaps", N: n}))
			return
		}
		e := lasting(frame.NumChannels, g.From, g.To)
		e.Figure = NoFrame
		t.add(g.From, g.To, say(KindGap, "No frames for ").shown(units.Duration, e).words(": "+g.Why+"."))
	}
}

// jumped is how far the board's clock must move against the monotonic one to be
// told of.
const jumped = 5 * time.Second

// tellClock tells where the time of day was set.
func (t *teller) tellClock() {
	for i := 1; i < len(t.seen); i++ {
		a, b := &t.seen[i-1], &t.seen[i]
		if !t.holds(b.T) {
			continue
		}
		by := b.Wall.Sub(a.Wall) - (b.T - a.T)
		if by.Abs() < jumped {
			continue
		}
		way := "forward"
		if by < 0 {
			way = "back"
		}
		s := say(KindClock, "The board's clock was put "+way+" by ")
		if by.Abs() > 366*24*time.Hour {
			s.words("more than a year")
		} else {
			s.amount(units.Duration, by.Abs().Seconds())
		}
		e := Evidence{Basis: OnClock, Channel: frame.NumChannels, From: b.T, To: b.T}
		t.add(b.T, b.T, s.words("; the order of what is told does not depend on it.").rests(e))
	}
}

// tellExposures tells how long and how far beyond each limit the run was.
func (t *teller) tellExposures() {
	if t.head.ID.N == 0 {
		return
	}
	sums := &t.run.Summary.Sums
	for r := range engine.NumRules {
		x, ok := sums.Exposures[r.String()]
		if !ok || x.BeyondWarnS+x.BeyondActS < 0.05 {
			continue
		}
		s := say(KindExposure, words.Rule(r)+": ")
		name := "exposure." + r.String()
		sum := func(part string, v float64) Evidence { return onSum(name+part, t.head.Start, t.head.End, v) }
		if x.BeyondActS >= 0.05 {
			s.shown(units.Duration, sum(".beyond_act_s", x.BeyondActS)).words(beyondWords(r))
		}
		if x.BeyondWarnS >= 0.05 {
			if x.BeyondActS >= 0.05 {
				s.words(", ")
			}
			s.shown(units.Duration, sum(".beyond_warn_s", x.BeyondWarnS)).words(" beyond its warning")
		}
		if r == engine.WaterHot && x.Severity > 0 {
			s.words("; ").shown(units.TemperatureDifference, sum(".severity_min", x.Severity/60)).words("·min (degree-minutes) over its limit")
		}
		t.add(t.head.Start, t.head.End, s.words("."))
	}
}

// beyondWords says what it means to be beyond a rule's outer limit.
func beyondWords(r engine.RuleID) string {
	switch r {
	case engine.NPSHMargin:
		return " below the margin that the pump needs"
	case engine.NoFlow:
		return " dry"
	}
	return " beyond its limit"
}
