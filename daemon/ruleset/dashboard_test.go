package ruleset

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/daemon/remote"
)

// each calls f for every object in a piece of JSON.
func each(v any, f func(o map[string]any)) {
	switch v := v.(type) {
	case map[string]any:
		f(v)
		for _, x := range v {
			each(x, f)
		}
	case []any:
		for _, x := range v {
			each(x, f)
		}
	}
}

func dashboard(t *testing.T) (d map[string]any, exprs []string) {
	t.Helper()
	require.NoError(t, json.Unmarshal([]byte(Dashboard(config.Default())), &d))
	each(d, func(o map[string]any) {
		if e, ok := o["expr"].(string); ok {
			exprs = append(exprs, e)
		}
	})
	return d, exprs
}

func TestEveryExpressionOfTheDashboardIsOneAndHasItsMetric(t *testing.T) {
	_, exprs := dashboard(t)
	require.Greater(t, len(exprs), 15)
	known := exported(t)
	for _, name := range remote.Names() {
		known[name] = true
	}
	file := "groups:\n  - name: dashboard\n    rules:\n"
	for i, e := range exprs {
		for _, name := range metricNames(e) {
			require.True(t, known[name], "%s is exported by nobody", name)
		}
		require.Contains(t, e, sel, "the expression must follow the choice of machines")
		file += fmt.Sprintf("      - {record: \"x:%d\", expr: %s}\n", i, quoted(forPromtool(e)))
	}
	out, err := promtool(t, map[string]string{"d.yml": file}, "check", "rules", "d.yml")
	require.NoError(t, err, out)
	_, err = promtool(t, map[string]string{"d.yml": strings.Replace(file, "min by", "min bye", 1)}, "check", "rules", "d.yml")
	require.Error(t, err, "and the check can fail")
}

// A dashboard that is imported elsewhere must bring nothing of here.
func TestTheDashboardIsPortable(t *testing.T) {
	d, _ := dashboard(t)
	require.Equal(t, "headroom-machines", d["uid"])
	require.NotContains(t, d, "id")
	ids, places := map[any]bool{}, map[string]bool{}
	each(d, func(o map[string]any) {
		if ds, ok := o["datasource"]; ok {
			require.Equal(t, map[string]any{"type": "prometheus", "uid": "${DS_PROMETHEUS}"}, ds)
		}
		if o["gridPos"] == nil {
			return
		}
		require.False(t, ids[o["id"]])
		ids[o["id"]] = true
		place := fmt.Sprint(o["gridPos"])
		require.False(t, places[place], place)
		places[place] = true
		require.NotEmpty(t, o["title"])
		unit := o["fieldConfig"].(map[string]any)["defaults"].(map[string]any)["unit"]
		require.NotEmpty(t, unit, o["title"])
	})
	require.NotRegexp(t, regexp.MustCompile(`https?://`), Dashboard(config.Default()))
}

// overlaps would hide a panel.
func TestNoPanelLiesOnAnother(t *testing.T) {
	type cell struct{ x, y int }
	taken := map[cell]string{}
	d, _ := dashboard(t)
	for _, p := range d["panels"].([]any) {
		o := p.(map[string]any)
		g := o["gridPos"].(map[string]any)
		n := func(k string) int { return int(g[k].(float64)) }
		require.LessOrEqual(t, n("x")+n("w"), 24)
		for x := n("x"); x < n("x")+n("w"); x++ {
			for y := n("y"); y < n("y")+n("h"); y++ {
				require.Empty(t, taken[cell{x, y}], "%v lies on %v", o["title"], taken[cell{x, y}])
				taken[cell{x, y}] = o["title"].(string)
			}
		}
	}
}
