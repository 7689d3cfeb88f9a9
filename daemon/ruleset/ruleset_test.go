package ruleset

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/daemon/handbook"
	"headroom/deploy/testneed"
)

var update = flag.Bool("update", false, "write the files of deploy/prometheus anew")

const folder = "../../deploy/prometheus"

func TestFilesAreCurrent(t *testing.T) {
	cfg := config.Default()
	for name, want := range map[string]string{AlertsFile: Alerts(cfg), TestsFile: Tests(cfg), DaysFile: DaysTests(cfg), DashboardFile: Dashboard(cfg)} {
		path := filepath.Join(folder, name)
		if *update {
			require.NoError(t, os.MkdirAll(folder, 0o755))
			require.NoError(t, os.WriteFile(path, []byte(want), 0o644))
		}
		got, err := os.ReadFile(path)
		require.NoError(t, err, "write it with: go test ./daemon/ruleset -update")
		if string(got) != want {
			t.Errorf("%s is not current; write it anew with: go test ./daemon/ruleset -update", path)
		}
	}
}

// promtool runs it in a folder with these files and returns what it said.
func promtool(t *testing.T, files map[string]string, args ...string) (string, error) {
	t.Helper()
	program := testneed.Program(t, "prometheus", "promtool")
	dir := t.TempDir()
	for name, text := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	cmd := exec.Command(program, args...)
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	return string(out), err
}

func TestPromtoolTakesRulesAndTests(t *testing.T) {
	cfg := config.Default()
	files := map[string]string{AlertsFile: Alerts(cfg), TestsFile: Tests(cfg), DaysFile: DaysTests(cfg)}
	out, err := promtool(t, files, "check", "rules", "--lint-fatal", AlertsFile)
	require.NoError(t, err, out)
	out, err = promtool(t, files, "test", "rules", TestsFile, DaysFile)
	require.NoError(t, err, out)
}

// Every alarm of the handbook has its rule, with its words.
func TestEveryAlarmOfTheHandbookHasItsRule(t *testing.T) {
	h := handbook.Build(config.Default())
	byAlarm := map[string]rule{}
	for _, r := range rules(config.Default()) {
		if r.alarm != "" {
			require.NotContains(t, byAlarm, r.alarm)
			byAlarm[r.alarm] = r
		}
	}
	n := 0
	for i := range h.Entries {
		for _, st := range h.Entries[i].Stages {
			require.Equal(t, st.Title, byAlarm[st.Alarm].summary, st.Alarm)
			require.Equal(t, st.Response, byAlarm[st.Alarm].action)
			n++
		}
	}
	for _, st := range h.Sensors.Rows {
		require.Equal(t, st.Title, byAlarm[st.Alarm].summary, st.Alarm)
		n++
	}
	require.Greater(t, n, 40)
}

func TestEveryRuleIsCompleteAndTestedBothWays(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range rules(config.Default()) {
		require.Regexp(t, regexp.MustCompile(`^Headroom[A-Z][A-Za-z0-9]+$`), r.name)
		require.False(t, seen[r.name], r.name)
		seen[r.name] = true
		require.NotEmpty(t, r.summary, r.name)
		require.NotEmpty(t, r.consequence, r.name)
		require.NotEmpty(t, r.action, r.name)
		yes, no := 0, 0
		for _, c := range r.cases {
			if c.firing != nil {
				yes++
			} else {
				no++
			}
		}
		require.Greater(t, yes*no, 0, "%s must be seen firing and silent", r.name)
	}
}

// mutants are mistakes that somebody could make in a rule. Each one, in any
// rule that it changes, must be found by that rule's own tests.
var mutants = []struct {
	what   string
	change func(r *rule)
}{
	{"never", func(r *rule) { r.expr = "(" + r.expr + ") > 1e9" }},
	{"turned round", func(r *rule) { r.expr = strings.Replace(r.expr, "== 1", "== 0", 1) }},
	{"any value", func(r *rule) {
		r.expr = strings.NewReplacer("} == 1 unless", "} >= 0 unless", " == 0", " >= 0", " > 0", " >= 0", " > 5", " >= 0").Replace(r.expr)
	}},
	{"forgets what was put aside", func(r *rule) { r.expr = strings.Replace(r.expr, aside, "", 1) }},
	{"forgets whose it is", func(r *rule) {
		r.expr = strings.Replace(r.expr, "on (job, instance, machine, alarm) headroom_alarm_phase", "on (alarm) headroom_alarm_phase", 1)
	}},
	{"acknowledged is put aside", func(r *rule) { r.expr = strings.Replace(r.expr, "shelved|", "shelved|acknowledged|", 1) }},
	{"the phase's past", func(r *rule) { r.expr = strings.Replace(r.expr, `out_of_service"} == 1`, `out_of_service"} >= 0`, 1) }},
	{"no patience", func(r *rule) { r.forTime = "" }},
	{"too patient", func(r *rule) { r.forTime = "100d" }},
	{"forgets at once", func(r *rule) { r.keep = "" }},
	{"never forgets", func(r *rule) {
		if r.keep != "" {
			r.keep = "9d"
		}
	}},
	{"severity", func(r *rule) { r.severity = "page" }},
}

// keepOpen are mutants that mean nothing for a rule, with the reason.
func harmless(what string, r *rule) bool {
	_, system := strings.CutPrefix(r.expr, "headroom_system_alarm_active")
	// How long a system alarm is kept is not tested: it is the same line of
	// code as for the machine's alarms.
	return system && strings.Contains(what, "forgets") || r.name == "HeadroomNoTargets" && what == "no patience" ||
		(what == "no patience" && r.name == "HeadroomNotSeen")
}

// The tests of the rules can fail: one file for each mutant holds every rule,
// with one rule changed at a time where promtool is quick enough, and all at
// once where a change is the same in all.
func TestMutantsOfTheRulesAreFound(t *testing.T) {
	cfg := config.Default()
	n := 0
	for _, r := range sample(rules(cfg)) {
		for _, m := range mutants {
			changed := r
			if m.change(&changed); changed.expr == r.expr && changed.forTime == r.forTime && changed.keep == r.keep && changed.severity == r.severity || harmless(m.what, &r) {
				continue
			}
			n++
			out, err := promtool(t, map[string]string{AlertsFile: alertsText([]rule{changed}), TestsFile: testsText([]rule{r}, r.slow)}, "test", "rules", TestsFile)
			require.Error(t, err, "%s, %s: %s is not found\n%s", r.name, m.what, changed.expr, out)
			require.Contains(t, out, "FAILED", "%s, %s must fail in a test and not in its text", r.name, m.what)
		}
	}
	require.Greater(t, n, 60)
}

// sample is one alarm of each kind and all that is not generated from a list:
// the others come from the same lines of code.
func sample(all []rule) (out []rule) {
	kinds := map[string]bool{}
	for _, r := range all {
		kind := r.name
		if r.alarm != "" {
			kind = r.group
		}
		if !kinds[kind] {
			kinds[kind] = true
			out = append(out, r)
		}
	}
	return out
}

func TestAlertNamesNoMetricThatIsNone(t *testing.T) {
	known := exported(t)
	for _, r := range rules(config.Default()) {
		for _, name := range metricNames(r.expr) {
			require.True(t, known[name], fmt.Sprintf("%s asks for %s, which nobody exports", r.name, name))
		}
	}
}

// exported are the names on the golden page of the metrics.
func exported(t *testing.T) map[string]bool {
	t.Helper()
	page, err := os.ReadFile("../metrics/testdata/running.prom")
	require.NoError(t, err)
	out := map[string]bool{"up": true}
	for _, m := range regexp.MustCompile(`(?m)^# TYPE (\S+)`).FindAllStringSubmatch(string(page), -1) {
		out[m[1]] = true
	}
	return out
}

func metricNames(expr string) []string {
	return regexp.MustCompile(`\bheadroom_\w+`).FindAllString(expr, -1)
}
