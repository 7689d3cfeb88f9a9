// Package ruleset makes what a Prometheus server and its dashboards need to
// watch headroom: alert rules with the very words, causes and actions of the
// machine's own alarms, tests of those rules, and a dashboard. All of it is
// read from the same definitions as the alarm handbook, so that a page in the
// office and the screen at the machine cannot say different things. It watches
// nothing itself, talks to no server, and knows no limit: whether an alarm
// stands is the machine's own judgement.
package ruleset

import (
	"strconv"

	"headroom/daemon/config"
	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/words"
)

// rule is one alert rule.
type rule struct {
	// name of the alert, and the group it stands in.
	name, group string
	// expr is true while the alert stands, forTime how long it must, keep how
	// long it goes on after; empty for none.
	expr, forTime, keep string
	// severity is a level's name, or a template that gives one.
	severity string
	// rule or channel that the alarm is of, as a label; empty for none.
	rule, channel string
	// alarm is the machine's own alarm; empty for what is not one.
	alarm                               string
	summary, cause, consequence, action string
	cases                               []ruleCase
	// slow rules look at days: their tests go in steps of an hour, in a
	// file of their own.
	slow bool
	// joint cases are of different machines at one time, and make one test.
	joint bool
}

// ruleCase is a test of one rule: series as promtool writes them, and whether
// the alert stands at a time. An alert that stands has these labels.
type ruleCase struct {
	what   string
	series []serie
	at     string
	firing map[string]string // nil where nothing may fire
}

// serie is one input series.
type serie struct{ name, values string }

// put aside by a person or shown under its cause: then the machine itself
// calls nobody.
const aside = `unless on (job, instance, machine, alarm) headroom_alarm_phase{phase=~"suppressed|shelved|out_of_service"} == 1`

// rules are all of a configuration, in the order of the handbook.
func rules(cfg *config.Config) (out []rule) {
	for r := range engine.NumRules {
		lim := &cfg.Engine.Rules[r]
		if lim.HasWarn {
			out = append(out, alarmRule(engine.WarnAlarm(r), lim.WarnLevel))
		}
		if lim.HasAct {
			out = append(out, alarmRule(engine.ActAlarm(r), lim.ActLevel))
		}
	}
	for c := range frame.NumChannels {
		out = append(out, alarmRule(engine.SensorAlarm(c), engine.SensorLevel(c)))
	}
	for id := range snapshot.NumSystemIDs {
		out = append(out, systemRule(id))
	}
	return append(out, programRules()...)
}

// alarmRule follows one of the engine's alarms. The engine has seen to delays
// and deadbands already, so it has no time of its own; it goes on for a while,
// so that an alarm of seconds is read by somebody.
func alarmRule(a engine.AlarmID, level engine.Level) rule {
	text := words.Alarm(a)
	group, of, channel := "headroom-machine", "", ""
	if c, ok := a.Channel(); ok {
		group, channel = "headroom-sensors", c.String()
	} else if r, ok := a.Rule(); ok {
		of = r.String()
	}
	sel := `{alarm="` + a.String() + `"}`
	r := rule{
		name: "Headroom" + camel(a.String()), group: group, rule: of, channel: channel, alarm: a.String(), keep: "5m",
		expr: "headroom_alarm_active" + sel + " == 1 " + aside, severity: "{{ $labels.level }}",
		summary: text.Title, cause: text.Cause, consequence: text.Consequence, action: text.Action,
	}
	r.cases, r.joint = alarmCases(a.String(), level.String()), true
	for i := range r.cases {
		for k, v := range map[string]string{"rule": of, "channel": channel} {
			if r.cases[i].firing != nil && v != "" {
				r.cases[i].firing[k] = v
			}
		}
	}
	return r
}

// alarmCases are as many machines in one test, each in another situation.
func alarmCases(alarm, level string) (out []ruleCase) {
	const none = ""
	for _, c := range []struct {
		what, active, phase, values string
		fires                       bool
	}{
		{"stands", "0x6 1x5", none, none, true},
		{"does not stand", "0x12", none, none, false},
		{"is gone, and kept for those who read", "0x6 1 0x20", none, none, true},
		{"is gone for good", "0 1 0x20", none, none, false},
		{"is under its cause", "1x12", "suppressed", "1x12", false},
		{"was put aside", "1x12", "shelved", "1x12", false},
		{"was taken out", "1x12", "out_of_service", "1x12", false},
		{"was put aside once", "1x12", "shelved", "1 1 0x10", true},
		{"is acknowledged", "1x12", "acknowledged", "1x12", true},
		{"of a machine that was switched off", "1 1 stale", none, none, false},
	} {
		machine := "j" + strconv.Itoa(len(out)+1)
		labels := `{job="headroom",instance="` + machine + `",alarm="` + alarm + `",`
		one := ruleCase{what: c.what, at: "9m", series: []serie{{"headroom_alarm_active" + labels + `level="` + level + `"}`, c.active}}}
		if c.phase != none {
			one.series = append(one.series, serie{"headroom_alarm_phase" + labels + `phase="` + c.phase + `"}`, c.values})
		}
		if c.fires {
			one.firing = map[string]string{"job": "headroom", "instance": machine, "alarm": alarm, "level": level, "severity": level}
		}
		out = append(out, one)
	}
	return out
}

// systemRule follows one of the program's alarms about itself.
func systemRule(id snapshot.SystemID) rule {
	text, name := id.Text(), id.String()
	series := func(values string) serie {
		return serie{`headroom_system_alarm_active{job="headroom",instance="j1",alarm="` + name + `",level="warning"}`, values}
	}
	fires := map[string]string{"job": "headroom", "instance": "j1", "alarm": name, "level": "warning", "severity": "warning"}
	return rule{
		name: "Headroom" + camel(name), group: "headroom-program", alarm: name, forTime: "1m", keep: "5m",
		expr: `headroom_system_alarm_active{alarm="` + name + `"} == 1`, severity: "{{ $labels.level }}",
		summary: text.Title, consequence: text.Consequence, action: text.Action,
		cases: []ruleCase{
			{"stands", []serie{series("1x9")}, "5m", fires},
			{"does not stand", []serie{series("0x9")}, "5m", nil},
			{"has only begun", []serie{series("0x4 1x4")}, "5m", nil},
		},
	}
}

// camel makes "inlet_low.act" to "InletLowAct".
func camel(name string) string {
	out, up := make([]byte, 0, len(name)), true
	for i := range len(name) {
		c := name[i]
		switch {
		case c == '_' || c == '.':
			up = true
			continue
		case up && c >= 'a' && c <= 'z':
			c -= 'a' - 'A'
		}
		up = false
		out = append(out, c)
	}
	return string(out)
}
