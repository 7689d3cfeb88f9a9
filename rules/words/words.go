// Package words holds what headroom says to people about its alarms: what is
// wrong, what comes of it, and what to do first. All of it stands in this one
// place, in plain sentences that can be reviewed as prose and translated as a
// whole; a second language is a second table. It computes nothing and formats
// no numbers.
package words

import (
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// Text is one alarm in words.
type Text struct {
	// Title says what is wrong, in a few words.
	Title string
	// Cause says what usually is behind it.
	Cause string
	// Consequence says what happens if nothing is done, and how soon.
	Consequence string
	// Action says what to do first.
	Action string
}

// ruleText is one rule's words; the two stages share cause and consequence,
// but differ in how urgently they ask.
type ruleText struct {
	label              string
	warn, act          string // titles
	cause, consequence string
	warnDo, actDo      string
}

// Rule returns a rule's short name for people, for lists and headings.
func Rule(r engine.RuleID) string {
	if r >= engine.NumRules {
		return "Unknown rule"
	}
	return english[r].label
}

// Alarm returns an alarm's words. Beyond the last alarm it says so.
func Alarm(id engine.AlarmID) Text {
	if r, ok := id.Rule(); ok {
		t := &english[r]
		if id == engine.ActAlarm(r) {
			return Text{t.act, t.cause, t.consequence, t.actDo}
		}
		return Text{t.warn, t.cause, t.consequence, t.warnDo}
	}
	if c, ok := id.Channel(); ok {
		return sensorText(c)
	}
	return Text{Title: "Unknown alarm"}
}

func sensorText(c frame.Channel) Text {
	return Text{
		Title:       c.Label() + ": sensor can't be trusted",
		Cause:       "A wire is off or wet, the sensor or its supply has failed, or its reading is old, stuck, beyond its range or contradicted by others.",
		Consequence: "The rules that need this sensor can't judge, so nothing warns you of what it would have seen.",
		Action:      "Look at the gauge and listen to the pump yourself. Check plug and wire at the sensor before you rely on it again.",
	}
}

// Headline is the one line that answers "is it all right?", by the highest
// standing level and the number of rules that should judge and cannot.
func Headline(l engine.Level, blind int) string {
	switch {
	case l == engine.Act:
		return "Act now"
	case l == engine.Warning:
		return "Warning"
	case blind > 0:
		return "Can't see everything"
	case l == engine.Advice:
		return "Look when you can"
	}
	return "All limits have room"
}
