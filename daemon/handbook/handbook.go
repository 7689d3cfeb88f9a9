// Package handbook makes the alarm handbook of a configuration: for every alarm
// what it means, what is behind it, what comes of it, what to do, when it comes
// and why not sooner, where its limit is from, and what it stands under. All of
// it is read from the words, the rules and the configuration, so that paper,
// page and program cannot say different things. It decides nothing and holds no
// text of an alarm itself; what standards call the master alarm database is
// this page with the configuration behind it.
package handbook

import (
	"strings"

	"headroom/daemon/config"
	"headroom/dashboard"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/units"
	"headroom/rules/words"
)

// Build makes the handbook of a configuration.
func Build(cfg *config.Config) *dashboard.Handbook {
	why := newReasons()
	h := &dashboard.Handbook{Machine: cfg.Name, Phases: phases(), Levels: levels(), Sensors: sensors(cfg, why)}
	for r := range engine.NumRules {
		h.Entries = append(h.Entries, entry(cfg, why, r))
	}
	return h
}

func entry(cfg *config.Config, why reasons, r engine.RuleID) dashboard.HandbookEntry {
	lim, spec := &cfg.Engine.Rules[r], r.Spec()
	text := words.Alarm(engine.ActAlarm(r))
	e := dashboard.HandbookEntry{
		Rule: r.String(), Label: words.Rule(r), Judges: why.doc(r), Off: off(lim), Cause: text.Cause, Consequence: text.Consequence,
		Applies: states(spec.States, true), Suppressed: states(spec.States, false),
		Under: labels(engine.Causes(r)), Over: labels(effects(r)), Source: lim.Source,
	}
	if e.Source == "" {
		e.Source = "not given"
	}
	back := both(spec.Difference, lim.Deadband) + " inside the limit"
	if lim.Deadband == 0 {
		back = "inside the limit"
	}
	e.GoesBack = back + after(lim.Off.Seconds())
	e.GoesBackWhy = why.of(r, "off_delay", lim.Off)
	e.Stages = stages(why, r, lim)
	return e
}

func stages(why reasons, r engine.RuleID, lim *engine.Limit) []dashboard.HandbookStage {
	var out []dashboard.HandbookStage
	if warn := engine.WarnAlarm(r); lim.HasWarn {
		out = append(out, dashboard.HandbookStage{
			Alarm: warn.String(), Title: words.Alarm(warn).Title, Response: words.Alarm(warn).Action, Level: lim.WarnLevel.Words(),
			Limit: limit(r, lim.Warn), Delay: delay(lim.WarnOn.Seconds()), DelayWhy: why.of(r, "warn_delay", lim.WarnOn),
			Latch: "no",
		})
	}
	if act := engine.ActAlarm(r); lim.HasAct {
		st := dashboard.HandbookStage{
			Alarm: act.String(), Title: words.Alarm(act).Title, Response: words.Alarm(act).Action, Level: lim.ActLevel.Words(),
			Limit: limit(r, lim.Act), Delay: delay(lim.ActOn.Seconds()), DelayWhy: why.of(r, "act_delay", lim.ActOn),
			Latch: "no",
		}
		if lim.Latch {
			st.Latch = "yes, until a person resets it"
			if w := why.latch(r); w != "" {
				st.Latch += ": " + w
			}
		}
		out = append(out, st)
	}
	return out
}

// off says why a rule raises nothing.
func off(lim *engine.Limit) string {
	_, set := lim.Outer()
	switch {
	case !lim.On:
		return "Switched off in this configuration."
	case !set:
		return "Has no limit in this configuration."
	}
	return ""
}

// limit writes a limit with the side that is beyond it.
func limit(r engine.RuleID, v float64) string {
	spec := r.Spec()
	switch {
	case spec.Quantity == units.Switch:
		return "yes or no"
	case spec.HighIsBad:
		return both(spec.Quantity, v) + " or above"
	}
	return both(spec.Quantity, v) + " or below"
}

// both writes a value in SI and, where it differs, in US units: paper has no
// switch for the units.
func both(q units.Quantity, v float64) string {
	si, us := units.Format(q, units.SI, v), units.Format(q, units.US, v)
	if si == us {
		return si
	}
	return si + " (" + us + ")"
}

func delay(s float64) string {
	if s <= 0 {
		return "none"
	}
	return units.Format(units.Duration, units.SI, s)
}

func after(s float64) string {
	if s <= 0 {
		return ""
	}
	return ", for " + delay(s)
}

// states lists the states in the set, or those out of it.
func states(set machine.Set, in bool) string {
	var out []string
	for st := range machine.NumStates {
		if set.Has(st) == in && (st != machine.Unknown || in) {
			out = append(out, st.Words())
		}
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, ", ")
}

func labels(rs []engine.RuleID) []string {
	if len(rs) == int(engine.NumRules)-1 {
		return []string{"every other rule"}
	}
	var out []string
	for _, r := range rs {
		out = append(out, words.Rule(r))
	}
	return out
}

// effects are the rules that may stand under a rule's alarms, but for the
// departure from normal, which stands under all.
func effects(cause engine.RuleID) []engine.RuleID {
	var out []engine.RuleID
	for r := range engine.NumRules {
		if r == engine.Departure {
			continue
		}
		for _, c := range engine.Causes(r) {
			if c == cause {
				out = append(out, r)
			}
		}
	}
	return out
}

func sensors(cfg *config.Config, why reasons) dashboard.HandbookSensors {
	text := words.Alarm(engine.SensorAlarm(0))
	s := dashboard.HandbookSensors{
		Cause: text.Cause, Consequence: text.Consequence, Response: text.Action,
		Delay: delay(cfg.Engine.SensorOn.Seconds()), DelayWhy: why.sensor("sensor_delay", cfg.Engine.SensorOn),
		GoesBack: delay(cfg.Engine.SensorOff.Seconds()), GoesBackWhy: why.sensor("sensor_clear", cfg.Engine.SensorOff),
	}
	for c := range frame.NumChannels {
		a := engine.SensorAlarm(c)
		s.Rows = append(s.Rows, dashboard.HandbookStage{Alarm: a.String(), Title: words.Alarm(a).Title, Level: engine.SensorLevel(c).Words()})
		if engine.OnlyShown(c) {
			s.OnlyShown = append(s.OnlyShown, c.Label())
		}
	}
	return s
}
