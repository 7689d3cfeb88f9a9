package review

import (
	"strconv"
	"time"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/rules/words"
)

// tellEpisodes tells of each alarm with what changed before it, what came with
// it, how long it stood and what the pump did meanwhile.
func (t *teller) tellEpisodes() {
	for i := range t.episodes {
		e := &t.episodes[i]
		t.tellChanges(e)
		t.tellAlarm(e)
		t.tellConsequences(e)
		t.tellRanOn(e)
		t.tellCleared(e)
	}
}

// tellChanges tells them in the order in which they began, each after the one
// before.
func (t *teller) tellChanges(e *episode) {
	var last *Change
	for i := range e.changes {
		c := &e.changes[i]
		s := say(KindChange, "")
		label := c.Channel.Label()
		if last != nil && c.Left > last.Left {
			gap := lasting(c.Channel, last.Left, c.Left)
			s.shown(units.Duration, gap).words(" later " + Lower(label))
		} else if last != nil {
			s.words("At the same moment " + Lower(label))
		} else {
			s.words(label)
		}
		s.words(verb(c)).shown(c.Channel.Quantity(), Evidence{
			Basis: OnSamples, Channel: c.Channel, From: c.BeforeFrom, To: c.BeforeTo, Figure: Median,
			Value: c.Before, HasValue: true, Count: c.BeforeCount,
		})
		s.words(" to ").shown(c.Channel.Quantity(), Evidence{
			Basis: OnSamples, Channel: c.Channel, From: c.AfterFrom, To: c.AfterTo, Figure: Median,
			Value: c.After, HasValue: true, Count: c.AfterCount,
		})
		s.words(" within ").shown(units.Duration, lasting(c.Channel, c.Left, c.Reached)).words(".")
		t.add(c.Left, c.Reached, s)
		last = c
	}
}

func verb(c *Change) string {
	if c.Rose() {
		return " rose from "
	}
	return " fell from "
}

func (t *teller) tellAlarm(e *episode) {
	a := &t.lives[e.root]
	s := say(KindAlarm, "Alarm ("+Lower(a.Level.Words())+"): "+a.Title+".")
	s.Level = uint8(a.Level)
	ev := onAlarm(a.Name, a.Raised)
	if r, ok := quantityOf(a); ok && r.Spec().Quantity != units.Switch {
		s.words(" " + words.Rule(r) + ": ")
		ev.Value, ev.HasValue = a.Value, true
		s.grade(r, ev).words(", with the limit at ").plain(r, a.Limit).words(".")
	} else {
		s.rests(ev)
	}
	if began := a.Raised - a.Onset; a.Onset > 0 && began >= 100*time.Millisecond {
		s.words(" The condition had begun ").amount(units.Duration, began.Seconds()).words(" earlier.")
	}
	if next := t.stageAfter(e); next != nil {
		s.words(" It went on to “" + next.Title + "” (" + Lower(next.Level.Words()) + ")")
		if late := next.Raised - a.Raised; late > 0 {
			s.words(" after ").amount(units.Duration, late.Seconds())
		}
		s.words(".").rests(onAlarm(next.Name, next.Raised))
		s.Level = max(s.Level, uint8(next.Level))
	}
	if a.First && len(e.others) > 0 {
		s.words(" It was the first of its group.")
	}
	if a.Under != "" {
		s.words(" It stood under: " + titleOf(a.Under) + ".")
	}
	t.add(a.Raised, a.Raised, s.rests(t.readings(a)...))
}

// stageAfter is the stage of the root's own rule that it went on to; nil for
// none.
func (t *teller) stageAfter(e *episode) *AlarmLife {
	root := &t.lives[e.root]
	rule, ok := root.Rule()
	for _, i := range e.others {
		a := &t.lives[i]
		if r, is := a.Rule(); ok && is && r == rule && a.Level > root.Level {
			return a
		}
	}
	return nil
}

// grade adds a rule's value: a word where it is a grade and no amount.
func (s *telling) grade(r engine.RuleID, e Evidence) *telling {
	if word, ok := words.Grade(r, e.Value); ok {
		return s.words(word).rests(e)
	}
	return s.shown(r.Spec().Quantity, e)
}

// plain adds a rule's limit.
func (s *telling) plain(r engine.RuleID, v float64) *telling {
	if word, ok := words.Grade(r, v); ok {
		return s.words(word)
	}
	return s.amount(r.Spec().Quantity, v)
}

// readings are the channels of an alarm at its moment, to look at.
func (t *teller) readings(a *AlarmLife) (out []Evidence) {
	for _, ch := range related(a) {
		if t.walked.fitted[ch] && t.walked.stands[a.Raised] {
			out = append(out, lasting(ch, a.Raised, a.Raised))
		}
	}
	return out
}

// tellConsequences lists what came with an alarm, each rule once with its
// highest stage.
func (t *teller) tellConsequences(e *episode) {
	root := &t.lives[e.root]
	rootRule, _ := root.Rule()
	highest := map[engine.RuleID]int{}
	for _, i := range e.others {
		if r, ok := t.lives[i].Rule(); ok && r != rootRule {
			if k, seen := highest[r]; !seen || t.lives[i].Level > t.lives[k].Level {
				highest[r] = i
			}
		}
	}
	if len(highest) == 0 {
		return
	}
	s, any := say(KindConsequence, "With it came: "), false
	to := root.Raised
	for _, i := range e.others {
		a := &t.lives[i]
		if r, ok := a.Rule(); !ok || highest[r] != i || r == rootRule {
			continue
		}
		if any {
			s.words("; ")
		}
		any = true
		s.words(a.Title)
		if late := a.Raised - root.Raised; late > 0 {
			s.words(" (").amount(units.Duration, late.Seconds()).words(" later)")
		}
		s.rests(onAlarm(a.Name, a.Raised))
		s.Level = max(s.Level, uint8(a.Level))
		to = max(to, a.Raised)
	}
	t.add(root.Raised, to, s.words("."))
}

// worstOf is the first alarm of the highest level in an episode: the root, or
// the stage that asks to act at once.
func (t *teller) worstOf(e *episode) *AlarmLife {
	worst := &t.lives[e.root]
	for _, i := range e.others {
		if a := &t.lives[i]; a.Level > worst.Level {
			worst = a
		}
	}
	return worst
}

// tellRanOn tells how long the pump went on after an alarm that asks to act at
// once.
func (t *teller) tellRanOn(e *episode) {
	a := t.worstOf(e)
	if a.Level < engine.Act || !t.walked.known {
		return
	}
	limit := t.head.To + 1
	if a.HasGone {
		limit = min(limit, a.Gone+1)
	}
	after := t.walked.turnsUntil(a.Raised, limit)
	until := after.until
	if until <= a.Raised {
		return
	}
	s := say(KindRanOn, "The pump ran on for ")
	s.Level = uint8(a.Level)
	gone := a.HasGone && a.Gone < until
	end := until
	if gone {
		end = a.Gone
	}
	ch := t.turningChannel()
	if !t.walked.stands[a.Raised] || gone && !t.walked.stands[end] {
		ch = frame.NumChannels // the ends lie between frames
	}
	s.shown(units.Duration, lasting(ch, a.Raised, end)).words(" after “" + a.Title + "”")
	switch {
	case gone:
		s.words(", until its condition was gone.")
	case after.stood:
		s.words(" and then stopped.")
	case after.unknown:
		s.words("; from then on the record can't tell whether it turned.")
	default:
		s.words(" and still turned when the record ends.")
	}
	if after.dark > 0 {
		s.words(" For ").amount(units.Duration, after.dark.Seconds()).words(" of that no reading tells whether it turned.")
	}
	t.whoStopped(s, a.Raised, end)
	t.add(a.Raised, end, s.rests(onAlarm(a.Name, a.Raised)))
}

// whoStopped tells apart a machine that was left running and one that was
// switched off and ran down: a pump without load coasts for seconds, and that is
// nobody's delay.
func (t *teller) whoStopped(s *telling, from, end time.Duration) {
	if off, ok := t.walked.switchedOff(from, end); ok && t.walked.stands[from] {
		s.words(" It was switched off ").shown(units.Duration, lasting(frame.Running, from, off)).words(" after the alarm.")
	}
}

// tellCleared tells when an alarm was gone: the higher stage where both were.
func (t *teller) tellCleared(e *episode) {
	a := &t.lives[e.root]
	if next := t.stageAfter(e); next != nil {
		a = next
	}
	if t.outstood(a) {
		return
	}
	if !a.HasGone {
		s := say(KindCleared, "“"+a.Title+"” still stood at the end of this account.")
		s.Level = uint8(a.Level)
		t.add(t.head.To, t.head.To, s.rests(onAlarm(a.Name, a.Raised)))
		return
	}
	end := onAlarm(a.Name, a.Gone)
	s := say(KindCleared, "The condition of “"+a.Title+"” was gone, ").
		amount(units.Duration, (a.Gone - a.Raised).Seconds()).words(" after the alarm.")
	t.add(a.Gone, a.Gone, s.rests(onAlarm(a.Name, a.Raised), end))
}

// outstood reports whether a later alarm of the same rule went at the same
// time: then that one is told of.
func (t *teller) outstood(a *AlarmLife) bool {
	rule, ok := a.Rule()
	for i := range t.lives {
		o := &t.lives[i]
		r, is := o.Rule()
		if ok && is && r == rule && o.Level > a.Level && o.Raised >= a.Raised && o.HasGone == a.HasGone && o.Gone == a.Gone {
			return true
		}
	}
	return false
}

// tellSensors tells of sensors that could not be trusted: by their alarms, and
// where no alarm came by the readings themselves.
func (t *teller) tellSensors() {
	for i := range t.lives {
		if c, ok := t.lives[i].Sensor(); ok {
			t.tellSensorAlarm(&t.lives[i], c)
		}
	}
	for i := range t.walked.doubts {
		if d := &t.walked.doubts[i]; d.to-d.from >= bridged && !t.alarmed(d) {
			s := say(KindSensor, d.channel.Label()+" could not be used for ").
				shown(units.Duration, lasting(d.channel, d.from, d.to)).words(": " + d.status.Words() + ".")
			if d.raw {
				s.rests(Evidence{Basis: OnSamples, Channel: d.channel, From: d.from, To: d.from, Figure: Unusable, Value: 1, HasValue: true, Count: 1})
			}
			t.add(d.from, d.to, s)
		}
	}
}

func (t *teller) tellSensorAlarm(a *AlarmLife, c frame.Channel) {
	s := say(KindSensor, c.Label()+" could not be trusted")
	s.Level = uint8(a.Level)
	if st, ok := frame.StatusByName(a.Status); ok {
		s.words(": " + st.Words())
	}
	s.words(".").rests(onAlarm(a.Name, a.Raised))
	if !a.HasGone {
		t.add(a.Raised, t.head.To, s.words(" It was not good again by the end of this account."))
		return
	}
	s.words(" It was good again after ").amount(units.Duration, (a.Gone - a.Raised).Seconds()).words(".")
	t.add(a.Raised, a.Gone, s.rests(onAlarm(a.Name, a.Gone)))
}

// alarmed reports whether a sensor's alarm tells of a doubt already.
func (t *teller) alarmed(d *doubt) bool {
	for i := range t.lives {
		a := &t.lives[i]
		c, ok := a.Sensor()
		if ok && c == d.channel && a.Onset <= d.to && (!a.HasGone || a.Gone >= d.from) {
			return true
		}
	}
	return false
}

// plural counts in words.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// times counts how often.
func times(n int) string {
	if n == 1 {
		return "once"
	}
	return strconv.Itoa(n) + " times"
}
