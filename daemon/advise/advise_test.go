package advise_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/advise"
)

// Each error names the flag that is wrong and what to write instead.
func TestErrorsNameTheFlagAndTheMend(t *testing.T) {
	for _, c := range []struct {
		topic string
		args  []string
		parts []string
	}{
		{"supply", nil, []string{"-static is missing", `-static "60 psi"`}},
		{"supply", []string{"-static", "62"}, []string{"-static", "no unit", "psi"}},
		{"line", []string{"-line", "4"}, []string{"-line", `"4 in"`}},
		{"supply", []string{"-static", "62 psi", "-flowing", "4,1 gpm @ 48 psi"}, []string{"-flowing", "comma", "point"}},
		{"supply", []string{"-static", "62 psi"}, []string{"-flowing was given 0 times", "@"}},
		{"supply", []string{"-static", "62 psi", "-flowing", "4 gpm 48 psi"}, []string{"-flowing", "has no @"}},
		{"supply", []string{"-static", "62 psi", "-flowing", "4 gal @ 48 psi"}, []string{"-flowing", "gpm"}},
		{"supply", []string{"-static", "62 psi", "-flowing", "4 gpm @ 48 psi", "-bypass-to", "ground"}, []string{"-bypass-to", "inlet or away"}},
		{"supply", []string{"-static", "62 psi", "-flowing", "4 gpm @ 48 psi", "-temp", "120 °C"}, []string{"-temp", "0 to 99"}},
		{"supply", []string{"-static", "62 psi", "-flowing", "4 gpm @ 48 psi", "-gauge-error", "0 psi"}, []string{"-gauge-error", "above 0"}},
		{"supply", []string{"-static", "62 psi", "-flowing", "4 gpm @ 48 psi", "-hose-length", "-5 ft"}, []string{"-hose-length", "negative"}},
		{"supply", []string{"-static", "48 psi", "-flowing", "4 gpm @ 62 psi"}, []string{"above that without", "take again", "-static"}},
		{"supply", []string{"-static", "62 psi", "-flowing", "0.3 gpm @ 61.9 psi"}, []string{"gauge's error", "more flow"}},
		{"supply", []string{"-static", "62", "psi"}, []string{`"psi" is no flag`, "quote"}},
		{"line", nil, []string{"-line is missing", "4 in"}},
		{"line", []string{"-line", "24 in"}, []string{"-line", "1 1/4 in to 8 in"}},
		{"line", []string{"-line", "4 in", "-holes", "100"}, []string{"-holes"}},
		{"cord", nil, []string{"-gauge is missing", "12 AWG"}},
		{"cord", []string{"-gauge", "12"}, []string{"-gauge", "14 AWG", "2.5 mm2"}},
		{"cord", []string{"-gauge", "12 AWG"}, []string{"-length is missing"}},
		{"cord", []string{"-gauge", "12 AWG", "-length", "50 ft", "-current", "15 psi"}, []string{"-current", "not one of A"}},
		{"cord", []string{"-gauge", "18 AWG", "-length", "900 m", "-current", "15 A"}, []string{"-current", "half of the voltage"}},
		{"cord", []string{"-gauge", "18 AWG", "-length", "9000 m", "-current", "15 A"}, []string{"-length", "1000 m"}},
		{"unloader", []string{"-current", "18 A"}, []string{"-pressure is missing"}},
		{"unloader", []string{"-current", "18 A", "-pressure", "0 psi"}, []string{"-pressure", "above 0"}},
		{"breaker", []string{"-current", "18 A", "-standard", "x"}, []string{"-standard", "ul489"}},
		{"breaker", []string{"-current", "18 A", "-rating", "9000 A"}, []string{"-rating"}},
		{"breaker", []string{"-current", "-3 A"}, []string{"-current", "0 A"}},
		{"breaker", []string{"-current", "18 A", "-before", "-3 A"}, []string{"-before"}},
		{"heat", nil, []string{"-temp is missing", "15 °C"}},
		{"heat", []string{"-temp", "-5 °C"}, []string{"-temp", "0 to 99"}},
		{"heat", []string{"-temp", "20 °C", "-power", "0 W"}, []string{"-power", "above 0"}},
		{"heat", []string{"-temp", "20 °C", "-units", "metric"}, []string{"-units", "US or SI"}},
		{"heat", []string{"-temp", "20 °C", "-config", "testdata/none.toml"}, []string{"none.toml"}},
	} {
		_, _, err := ask(c.topic, c.args...)
		require.Error(t, err, "%s %v", c.topic, c.args)
		for _, p := range c.parts {
			require.Contains(t, err.Error(), p, "%s %v", c.topic, c.args)
		}
	}
}

// A gauge that is off may not turn a marginal supply into a sure one.
func TestALargerGaugeErrorIsNeverSurer(t *testing.T) {
	rank := map[string]int{"yes": 0, "marginal": 1, "no": 2}
	last := -1
	for _, e := range []string{"0.1 psi", "1 psi", "2 psi", "4 psi"} {
		a, _, err := ask("supply", "-static", "45 psi", "-flowing", "2.2 gpm @ 9 psi", "-gauge-error", e)
		require.NoError(t, err)
		require.GreaterOrEqual(t, rank[a.Verdict], last, e)
		require.LessOrEqual(t, rank[a.Verdict], 1, e)
		last = rank[a.Verdict]
	}
	require.Equal(t, 1, last, "with an error of 4 psi the answer can't be sure")
}

func TestEveryAnswerCarriesTheCaution(t *testing.T) {
	for _, q := range questions {
		a, _, err := ask(q.topic, q.args...)
		require.NoError(t, err, q.name)
		var text, data bytes.Buffer
		require.NoError(t, a.WriteText(&text))
		require.NoError(t, a.JSON(&data))
		require.Contains(t, strings.Join(strings.Fields(text.String()), " "), advise.Caution)
		require.True(t, json.Valid(data.Bytes()))
		require.Contains(t, data.String(), advise.Caution)
		require.NotEmpty(t, a.Headline)
		require.NotEmpty(t, a.Verdict)
		for line := range strings.Lines(text.String()) {
			require.LessOrEqual(t, len([]rune(strings.TrimSuffix(line, "\n"))), 78, line)
			require.NotContains(t, line, "%!")
		}
	}
}

// Numbers for programs are the same in either system.
func TestValuesDontDependOnUnits(t *testing.T) {
	for _, q := range questions {
		us, _, err := ask(q.topic, append(q.args, "-units", "US")...)
		require.NoError(t, err)
		si, _, err := ask(q.topic, append(q.args, "-units", "SI")...)
		require.NoError(t, err)
		require.Equal(t, us.Values, si.Values, q.name)
		require.Equal(t, us.Verdict, si.Verdict, q.name)
		seen := map[string]bool{}
		for _, v := range us.Values {
			require.False(t, seen[v.Name], "%s: %s stands twice", q.name, v.Name)
			seen[v.Name] = true
			require.False(t, math.IsNaN(v.Value) || math.IsInf(v.Value, 0), v.Name)
		}
	}
}

func FuzzSupply(f *testing.F) {
	f.Add("62 psi", "4.1 gpm @ 48 psi", "15 °C")
	f.Add("0 bar", "1 L/min @ -1 bar", "0 K")
	f.Add("1e300 Pa", "1e-300 m3/s @ 1e299 Pa", "99 C")
	f.Fuzz(func(t *testing.T, static, flowing, temp string) {
		topic, _ := advise.Find("supply")
		fs := flag.NewFlagSet("supply", flag.ContinueOnError)
		b := topic.Bind(fs)
		for name, v := range map[string]string{"static": static, "flowing": flowing, "temp": temp} {
			require.NoError(t, fs.Set(name, v))
		}
		a, err := b.Answer()
		if err != nil {
			return
		}
		for _, v := range a.Values {
			require.False(t, math.IsNaN(v.Value) || math.IsInf(v.Value, 0), v.Name)
		}
		require.NoError(t, a.JSON(&bytes.Buffer{}))
	})
}

func FuzzCord(f *testing.F) {
	f.Add("12 AWG", "50 ft", "15 A")
	f.Add("2.5 mm²", "1e9 m", "1e9 A")
	f.Fuzz(func(t *testing.T, gauge, length, current string) {
		a, _, err := ask("cord", "-gauge", gauge, "-length", length, "-current", current)
		if err == nil {
			require.NoError(t, a.JSON(&bytes.Buffer{}))
			require.NotEmpty(t, a.Verdict)
		}
	})
}
