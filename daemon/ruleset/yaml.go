package ruleset

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"headroom/daemon/config"
)

const (
	// AlertsFile and TestsFile are the files' names, as the one names the other.
	AlertsFile = "alerts.yml"
	TestsFile  = "alerts_test.yml"
	// DaysFile are the tests of the rules that look at days.
	DaysFile = "alerts_days_test.yml"
)

// quoted is a text as YAML takes it: JSON is a part of YAML.
func quoted(text string) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if e.Encode(text) != nil {
		return `""` // no text can't be encoded
	}
	return strings.TrimSpace(b.String())
}

// Alerts is the file of alert rules for a configuration.
func Alerts(cfg *config.Config) string { return alertsText(rules(cfg)) }

func alertsText(all []rule) string {
	var b strings.Builder
	b.WriteString("# Alert rules for headroom. Generated: headroom prometheus alerts\n" +
		"# The machine judges; these rules carry its alarms on in its own words.\n" +
		"# headroom is an aid and no certified safety device.\ngroups:\n")
	group := ""
	for i := range all {
		r := &all[i]
		if r.group != group {
			group = r.group
			fmt.Fprintf(&b, "  - name: %s\n    rules:\n", group)
		}
		fmt.Fprintf(&b, "      - alert: %s\n        expr: %s\n", r.name, quoted(r.expr))
		if r.forTime != "" {
			fmt.Fprintf(&b, "        for: %s\n", r.forTime)
		}
		if r.keep != "" {
			fmt.Fprintf(&b, "        keep_firing_for: %s\n", r.keep)
		}
		fmt.Fprintf(&b, "        labels: {severity: %s%s%s}\n        annotations:\n", quoted(r.severity), more("rule", r.rule), more("channel", r.channel))
		for _, a := range r.annotations() {
			fmt.Fprintf(&b, "          %s: %s\n", a[0], quoted(a[1]))
		}
	}
	return b.String()
}

// more is one label more; nothing for one without a value.
func more(name, value string) string {
	if value == "" {
		return ""
	}
	return ", " + name + ": " + quoted(value)
}

// who names the machine: sent series carry its name, scraped ones an address.
const who = "{{ with $labels.machine }}{{ . }}{{ else }}{{ $labels.instance }}{{ end }}: "

func (r *rule) annotations() (out [][2]string) {
	for _, a := range [][2]string{{"summary", who + r.summary}, {"cause", r.cause}, {"consequence", r.consequence}, {"action", r.action}} {
		if a[1] != "" {
			out = append(out, a)
		}
	}
	return out
}

// Tests is the file of the rules' tests, for promtool test rules.
func Tests(cfg *config.Config) string { return testsText(rules(cfg), false) }

// DaysTests are the tests of the rules that look at days.
func DaysTests(cfg *config.Config) string { return testsText(rules(cfg), true) }

func testsText(all []rule, slow bool) string {
	file, command, every := TestsFile, "tests", "1m"
	if slow {
		file, command, every = DaysFile, "days-tests", "1h"
	}
	var b strings.Builder
	fmt.Fprintf(&b, "# Tests of %s. Generated: headroom prometheus %s\n# Run them with: promtool test rules %s\n"+
		"rule_files: [%s]\nevaluation_interval: %s\ntests:\n", AlertsFile, command, file, AlertsFile, every)
	for i := range all {
		r := &all[i]
		switch {
		case r.slow != slow:
		case r.joint:
			r.writeTest(&b, r.cases, "machine by machine", every)
		default:
			for j := range r.cases {
				r.writeTest(&b, r.cases[j:j+1], r.cases[j].what, every)
			}
		}
	}
	return b.String()
}

// writeTest writes cases that are looked at at one time.
func (r *rule) writeTest(b *strings.Builder, cases []ruleCase, what, every string) {
	fmt.Fprintf(b, "  - name: %s\n    interval: %s\n    input_series:\n", quoted(r.name+" "+what), every)
	for i := range cases {
		if len(cases) > 1 {
			fmt.Fprintf(b, "      # %s\n", cases[i].what)
		}
		for _, s := range cases[i].series {
			fmt.Fprintf(b, "      - {series: %s, values: %s}\n", quoted(s.name), quoted(s.values))
		}
	}
	fmt.Fprintf(b, "    alert_rule_test:\n      - eval_time: %s\n        alertname: %s\n        exp_alerts:", cases[0].at, r.name)
	none := " []"
	for i := range cases {
		if cases[i].firing != nil {
			none = ""
		}
	}
	b.WriteString(none + "\n")
	for i := range cases {
		r.writeExpected(b, &cases[i])
	}
}

func (r *rule) writeExpected(b *strings.Builder, c *ruleCase) {
	if c.firing == nil {
		return
	}
	b.WriteString("          - exp_labels:\n")
	for _, k := range slices.Sorted(maps.Keys(c.firing)) {
		fmt.Fprintf(b, "              %s: %s\n", k, quoted(c.firing[k]))
	}
	b.WriteString("            exp_annotations:\n")
	for _, a := range r.annotations() {
		fmt.Fprintf(b, "              %s: %s\n", a[0], quoted(strings.Replace(a[1], who, c.firing["instance"]+": ", 1)))
	}
}
