package ruleset

import (
	"encoding/json"
	"strings"

	"headroom/daemon/config"
)

// DashboardFile is the name of the dashboard's file.
const DashboardFile = "dashboard.json"

// object is JSON of Grafana's own making.
type object = map[string]any

// source is the variable that stands for whichever Prometheus there is.
var source = object{"type": "prometheus", "uid": "${DS_PROMETHEUS}"}

// sel chooses machines: by name where the series were sent, by address where
// they were scraped.
const sel = `instance=~"$instance",machine=~"$machine"`

// panel is one panel with its place on a grid of 24 columns.
type panel struct {
	kind, title, help, unit string
	w, h                    int
	queries                 []query
	options                 object
	min, max                any

	steps []any
}

type query struct{ expr, legend string }

// Dashboard is a dashboard for one machine or many. Its question is the one of
// the machine's own screen: how far to the nearest limit, what can't be told,
// and what stands.
func Dashboard(*config.Config) string {
	d := object{
		"uid": "headroom-machines", "title": "Headroom", "tags": []string{"headroom"}, "schemaVersion": 38, "version": 1,
		"editable": true, "graphTooltip": 1, "refresh": "30s", "time": object{"from": "now-1h", "to": "now"},
		"templating":  object{"list": []any{dataVariable(), listVariable("machine", "Machine"), listVariable("instance", "Address")}},
		"annotations": object{"list": []any{alarmNotes()}}, "panels": laidOut(panels()),
	}
	text, err := json.MarshalIndent(d, "", "  ")
	if err != nil {
		panic(err) // a mistake of this file
	}
	return string(text) + "\n"
}

func dataVariable() object {
	return object{"name": "DS_PROMETHEUS", "label": "Data source", "type": "datasource", "query": "prometheus"}
}

func listVariable(name, label string) object {
	q := "label_values(headroom_fresh, " + name + ")"
	return object{
		"name": name, "label": label, "type": "query", "datasource": source, "definition": q, "query": object{"query": q, "refId": "A"},
		"refresh": 2, "includeAll": true, "multi": true, "allValue": ".*", "sort": 1, "current": object{"text": "All", "value": "$__all"},
	}
}

// alarmNotes mark the moments at which alarms came up.
func alarmNotes() object {
	return object{
		"name": "Alarms", "datasource": source, "enable": true, "iconColor": "orange", "titleFormat": "{{alarm}}",
		"expr": `changes(headroom_alarm_active{` + sel + `,level=~"warning|act"}[1m]) > 0 and headroom_alarm_active == 1`, "step": "30s",
	}
}

// nearest is a rule's headroom: at this moment where it is scraped, the least
// of the minute where it was sent.
const nearest = `(headroom_rule_headroom_ratio{` + sel + `} or headroom_rule_headroom_min_ratio{` + sel + `})`

func panels() (out []panel) {
	out = append(out,
		panel{kind: "stat", title: "Nearest limit", help: "Least headroom of all rules that judge: 100 % is ample, 0 % is at the limit.", unit: "percentunit", w: 6, h: 5,
			queries: []query{{"min by (machine, instance) (" + nearest + ")", "{{machine}}{{instance}}"}}, steps: headroomSteps()},
		panel{kind: "stat", title: "Rules that can't judge", help: "Unknown is not all right: these rules lack a reading.", unit: "none", w: 6, h: 5,
			queries: []query{{`max by (machine, instance) (headroom_rules_blind{` + sel + `})`, "{{machine}}{{instance}}"}}, steps: aboveNone()},
		panel{kind: "table", title: "Standing alarms", help: "What the machine says, with its level.", unit: "none", w: 12, h: 5,
			queries: []query{{`headroom_alarm_active{` + sel + `} == 1`, ""}}, options: object{"showHeader": true}},
		panel{kind: "bargauge", title: "Headroom to each limit", help: "All rules on one scale.", unit: "percentunit", w: 12, h: 11, min: -0.2, max: 1,
			queries: []query{{"sort(min by (rule) (" + nearest + "))", "{{rule}}"}}, steps: headroomSteps(),
			options: object{"orientation": "horizontal", "displayMode": "basic", "reduceOptions": object{"calcs": []string{"lastNotNull"}}}},
		panel{kind: "timeseries", title: "Headroom over time", unit: "percentunit", w: 12, h: 11, queries: []query{{nearest, "{{rule}} {{machine}}"}}},
		panel{kind: "state-timeline", title: "What the machine does", unit: "none", w: 24, h: 5,
			queries: []query{{`headroom_machine_state{` + sel + `} == 1`, "{{state}} {{machine}}"}}, options: object{"showValue": "never", "mergeValues": true}},
		panel{kind: "state-timeline", title: "Sensors that are not good", help: "A dead sensor has no reading; here is why.", unit: "none", w: 24, h: 6,
			queries: []query{{`headroom_channel_status{` + sel + `,status!~"good|not_fitted"} == 1`, "{{channel}}: {{status}} {{machine}}"}}, options: object{"showValue": "never", "mergeValues": true}},
	)
	for _, q := range readings {
		out = append(out, readingPanel(q))
	}
	return append(out, lifePanels()...)
}

// reading is one quantity's panel; factor brings SI to the unit of the panel.
type reading struct {
	title, metric, unit, factor string
}

// readings stand in the order of the machine's own page: what starves or cooks
// a pump first.
var readings = []reading{
	{"Pressure", "pressure_pascals", "pressurekpa", " / 1000"},
	{"Temperature", "temperature_celsius", "celsius", ""},
	{"Flow", "flow_cubic_meters_per_second", "flowlpm", " * 60000"},
	{"Motor current", "current_amperes", "amp", ""},
	{"Voltage", "voltage_volts", "volt", ""},
	{"Shaft speed", "speed_hertz", "rothz", ""},
	{"Vibration", "acceleration_meters_per_second_squared", "accMS2", ""},
	{"Tank level", "level_ratio", "percentunit", ""},
}

func readingPanel(r reading) panel {
	return panel{kind: "timeseries", title: r.title, help: "Good readings only; a gap is a gap.", unit: r.unit, w: 12, h: 8,
		queries: []query{{"headroom_" + r.metric + "{" + sel + "}" + r.factor, "{{channel}} {{machine}}"}}}
}

func lifePanels() []panel {
	return []panel{
		{kind: "timeseries", title: "Time beyond limits, per hour of running", help: "What wears a pump.", unit: "s", w: 12, h: 8, queries: []query{{
			`sum by (rule, limit, machine) (increase(headroom_rule_beyond_limit_seconds_total{` + sel + `}[1h]))`, "{{rule}} {{limit}} {{machine}}",
		}}},
		{kind: "timeseries", title: "Water drawn", unit: "m3", w: 6, h: 8, queries: []query{{`headroom_water_cubic_meters_total{` + sel + `}`, "{{machine}}{{instance}}"}}},
		{kind: "timeseries", title: "Starts of the pump", unit: "none", w: 6, h: 8, queries: []query{{`headroom_starts_total{` + sel + `}`, "{{machine}}{{instance}}"}}},
		{kind: "stat", title: "Watching", help: "1 while the program looks at the machine.", unit: "none", w: 6, h: 4, queries: []query{{`headroom_fresh{` + sel + `}`, "{{machine}}{{instance}}"}}},
		{kind: "stat", title: "Trouble of the program itself", unit: "none", w: 6, h: 4, queries: []query{{`sum by (machine, instance) (headroom_system_alarm_active{` + sel + `})`, "{{machine}}{{instance}}"}}, steps: aboveNone()},
		{kind: "stat", title: "The record waits to be sent for", unit: "s", w: 6, h: 4, queries: []query{{`headroom_remote_behind_seconds{` + sel + `}`, "{{machine}}{{instance}}"}}},
		{kind: "stat", title: "Software", unit: "none", w: 6, h: 4, queries: []query{{`headroom_build_info{` + sel + `}`, "{{version}} {{machine}}"}}, options: object{"textMode": "name"}},
	}
}

func step(color string, from any) any { return object{"color": color, "value": from} }

// headroomSteps colour only what is abnormal.
func headroomSteps() []any {
	return []any{step("red", nil), step("orange", 0.0), step("text", 0.25)}
}

func aboveNone() []any { return []any{step("text", nil), step("orange", 1)} }

// laidOut gives panels their numbers and places, row by row.
func laidOut(all []panel) (out []any) {
	x, y, row := 0, 0, 0
	for i := range all {
		p := &all[i]
		if x+p.w > 24 {
			x, y, row = 0, y+row, 0
		}
		out = append(out, p.json(i+1, x, y))
		x, row = x+p.w, max(row, p.h)
	}
	return out
}

func (p *panel) json(id, x, y int) object {
	var targets []any
	for i, q := range p.queries {
		t := object{"refId": string(rune('A' + i)), "datasource": source, "expr": q.expr, "legendFormat": q.legend}
		if p.kind == "table" {
			t["format"], t["instant"] = "table", true
		}
		targets = append(targets, t)
	}
	defaults := object{"unit": p.unit}
	for k, v := range map[string]any{"min": p.min, "max": p.max} {
		if v != nil {
			defaults[k] = v
		}
	}
	if p.kind == "timeseries" {
		defaults["custom"] = object{"spanNulls": false, "lineWidth": 1}
	}
	if len(p.steps) > 0 {
		defaults["thresholds"] = object{"mode": "absolute", "steps": p.steps}
		defaults["color"] = object{"mode": "thresholds"}
	}
	out := object{
		"id": id, "type": p.kind, "title": p.title, "datasource": source, "targets": targets,
		"gridPos": object{"x": x, "y": y, "w": p.w, "h": p.h}, "fieldConfig": object{"defaults": defaults, "overrides": []any{}},
	}
	if p.help != "" {
		out["description"] = p.help
	}
	if p.options != nil {
		out["options"] = p.options
	}
	return out
}

// forPromtool is an expression of the dashboard with its variables filled in.
func forPromtool(expr string) string {
	return strings.NewReplacer("$instance", ".*", "$machine", ".*").Replace(expr)
}
