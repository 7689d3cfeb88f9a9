package whatif

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/config"
	"headroom/daemon/review/recordtest"
	"headroom/daemon/store"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/units"
)

var ctx = context.Background()

func played(t testing.TB, name string, acts ...recordtest.Deed) *store.Reader {
	r, err := store.OpenReader(recordtest.Play(t, recordtest.Script{Scenario: name, Acts: acts}))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, r.Close()) })
	return r
}

var run1 = store.RunID{Boot: 1, N: 1}

// TestTheSameConfigGivesNoDifference to the last bit, with and without what
// people did, and gives the alarms that were recorded.
func TestTheSameConfigGivesNoDifference(t *testing.T) {
	for _, name := range []string{"kinked_hose", "trigger_held_off", "sensor_stuck", "long_thin_cord"} {
		r := played(t, name, recordtest.Deed{At: 100 * time.Second, Alarm: "inlet_low.act", Act: alarm.Acknowledge, Who: "Kim"})
		for _, q := range []Question{
			{Acts: true}, {Acts: true, Settings: []Setting{{"machine", "name", "another name"}}}, {},
		} {
			a, err := Ask(ctx, r, run1, q)
			require.NoError(t, err)
			require.True(t, a.Identical, name)
			require.Equal(t, a.DigestThen, a.DigestOther)
			require.NotEmpty(t, a.Rows)
			for i := range a.Rows {
				require.Equal(t, Same, a.Rows[i].Kind)
			}
			if q.Acts {
				require.Empty(t, a.Asis, "the record's own alarms")
			}
			require.Contains(t, a.Headline(), "No difference")
		}
	}
}

// TestOtherLimits: what a higher limit, a longer delay and a rule that is off
// do to a known job. The kink of the script brings 70 kPa and 20 kPa within
// its last half second; a limit of 200 kPa is passed before.
func TestOtherLimits(t *testing.T) {
	r := played(t, "kinked_hose")
	row := func(a *Answer, alarm string) *Row {
		for i := range a.Rows {
			if a.Rows[i].alarm().ID.String() == alarm {
				return &a.Rows[i]
			}
		}
		return nil
	}
	ask := func(s ...string) *Answer {
		var q Question
		for _, x := range s {
			one, err := ParseSetting(x)
			require.NoError(t, err)
			q.Settings = append(q.Settings, one)
		}
		a, err := Ask(ctx, r, run1, q)
		require.NoError(t, err)
		require.False(t, a.Identical)
		return a
	}
	higher := ask("rules.inlet_low.warn=200 kPa")
	got := row(higher, "inlet_low.warn")
	require.Equal(t, Earlier, got.Kind)
	require.Positive(t, got.Lead)
	require.Equal(t, Same, row(higher, "inlet_low.act").Kind, "the other stage stays")
	require.Contains(t, got.Words(units.SI), "lead won")

	off := ask("rules.inlet_low.on=false")
	require.Equal(t, Gone, row(off, "inlet_low.act").Kind)
	back, err := Ask(ctx, r, run1, Question{Config: off.Other})
	require.NoError(t, err)
	require.Equal(t, Gone, row(back, "inlet_low.act").Kind, "a whole config does the same as its settings")

	lower := ask("rules.circuit_load.warn=13 A")
	require.Equal(t, New, row(lower, "circuit_load.warn").Kind)
	require.Contains(t, lower.Headline(), " new")
}

func TestMistakesAreNamed(t *testing.T) {
	r := played(t, "kinked_hose")
	for _, x := range []struct{ setting, says string }{
		{"rules.inlet_low.warm=10 kPa", "warm"},
		{"rules.inlet_low.warn=10 apples", "apples"},
		{"nonsense.key=1", "nonsense"},
	} {
		s, err := ParseSetting(x.setting)
		require.NoError(t, err)
		_, err = Ask(ctx, r, run1, Question{Settings: []Setting{s}})
		require.ErrorContains(t, err, x.says)
	}
	for _, bad := range []string{"", "=", "a=b", "a.b", "a.b=", "A.b=1", "a.b=1\nc=2"} {
		_, err := ParseSetting(bad)
		require.ErrorContains(t, err, "section.key=value", bad)
	}
	_, err := Ask(ctx, r, store.RunID{Boot: 7}, Question{})
	require.ErrorContains(t, err, "no boot 7")
}

// TestApply: only the line meant changes.
func TestApply(t *testing.T) {
	for name, x := range map[string]struct{ text, set, want string }{
		"a key that is there":  {"[a]\nx = 1 # why\n[b]\nx = 2\n", "b.x=3", "[a]\nx = 1 # why\n[b]\nx = 3\n"},
		"a key that isn't":     {"[a]\ny = 1\n", "a.x=3 psi", "[a]\nx = \"3 psi\"\ny = 1\n"},
		"a section that isn't": {"y = 1\n", "a.b.x=true", "y = 1\n\n[a.b]\nx = true\n"},
		"not the list's":       {"[a]\ny=1\n[[a.list]]\nx = 1\n", "a.x=2", "[a]\nx = 2\ny=1\n[[a.list]]\nx = 1\n"},
		"not a comment":        {"[a]\n# x = 1\n", "a.x=2", "[a]\nx = 2\n# x = 1\n"},
	} {
		s, err := ParseSetting(x.set)
		require.NoError(t, err, name)
		got, err := Apply([]byte(x.text), []Setting{s})
		require.NoError(t, err, name)
		require.Equal(t, x.want, string(got), name)
	}
	_, err := Apply([]byte("[a]\nx = [\n1,\n]\n"), []Setting{{"a", "x", "2"}})
	require.ErrorContains(t, err, "several lines")
}

// FuzzApply: a setting that the reader understands is what the text then says.
func FuzzApply(f *testing.F) {
	f.Add("[rules.inlet_low]\nwarn = \"70 kPa\"\n")
	f.Add("# nothing\n")
	f.Add("[rules.inlet_low]\n\n[[machine.npsh_required]]\nspeed = \"1725 rpm\"\nhead = \"2 m\"\n")
	f.Fuzz(func(t *testing.T, text string) {
		_, problems := config.Parse("in", []byte(text))
		if len(config.Mistakes(problems)) > 0 || strings.Contains(text, `"""`) || strings.Contains(text, "'''") {
			return
		}
		got, err := Apply([]byte(text), []Setting{{"rules.inlet_low", "warn", "123 kPa"}})
		if err != nil {
			return
		}
		cfg, problems := config.Parse("out", got)
		if len(config.Mistakes(problems)) == 0 {
			require.InDelta(t, 123e3, cfg.Engine.Rules[engine.InletLow].Warn, 1e-6, "%s", got)
		}
	})
}

// TestPairing: each raising stands in exactly one row, whatever the lists are,
// and a list beside itself has no difference.
func TestPairing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := func(name string) (out []Alarm) {
			at := time.Duration(0)
			for range rapid.IntRange(0, 12).Draw(t, name) {
				at += time.Duration(rapid.IntRange(0, 200).Draw(t, "s")) * time.Second
				a := Alarm{ID: engine.AlarmID(rapid.IntRange(0, 3).Draw(t, "id")), Level: engine.Warning, Raised: at}
				if rapid.Bool().Draw(t, "gone") {
					a.HasGone, a.Gone = true, at+time.Duration(rapid.IntRange(0, 300).Draw(t, "for"))*time.Second
				}
				out = append(out, a)
			}
			return out
		}
		then, other := list("then"), list("other")
		rows := pair(then, other, time.Hour)
		n := [2]int{}
		for i := range rows {
			if rows[i].Then != nil {
				n[0]++
			}
			if rows[i].Other != nil {
				n[1]++
			}
			require.Equal(t, rows[i].Then == nil, rows[i].Kind == New)
			require.Equal(t, rows[i].Other == nil, rows[i].Kind == Gone)
			require.NotEmpty(t, rows[i].Words(units.US))
		}
		require.Equal(t, [2]int{len(then), len(other)}, n)
		for _, row := range pair(then, then, time.Hour) {
			require.Equal(t, Same, row.Kind)
		}
	})
}

func TestTexts(t *testing.T) {
	r := played(t, "kinked_hose")
	a, err := Ask(ctx, r, run1, Question{Settings: []Setting{{"rules.inlet_low", "warn", "200 kPa"}}})
	require.NoError(t, err)
	var text, data bytes.Buffer
	require.NoError(t, a.WriteText(&text, units.SI))
	for _, want := range []string{"rules.inlet_low.warn = 200 kPa", "earlier: that much lead won", "limit 70 kPa, what if 200 kPa", "no certified safety device"} {
		require.Contains(t, text.String(), want)
	}
	require.NoError(t, a.WriteJSON(&data, units.SI))
	var back map[string]any
	require.NoError(t, json.Unmarshal(data.Bytes(), &back))
	require.Equal(t, false, back["identical"])
	require.Len(t, back["rows"], len(a.Rows))
	require.NotContains(t, text.String(), "SIMULATED")

	a.Source.Readings = store.FromSimulator
	text.Reset()
	require.NoError(t, a.WriteText(&text, units.SI))
	require.True(t, strings.HasPrefix(text.String(), "SIMULATED"), "what nobody's pump lived through says so before all else")
	t.Log(text.String())
}

// TestExamplesWork: what the README, the help and the page propose to write can
// be asked of a record that was made with the default config.
func TestExamplesWork(t *testing.T) {
	r := played(t, "kinked_hose")
	for file, example := range map[string]string{
		"../../README.md":                           `rules.inlet_low.warn=15psi`,
		"../cmd_whatif.go":                          `rules.inlet_low.act=10psi`,
		"../../dashboard/templates/runwhatif.html":  `rules.inlet_low.warn = "15 psi"`,
		"../../dashboard/templates/runwhatif.html ": `supply_hose.bore = "1 in"`,
	} {
		text, err := os.ReadFile(strings.TrimSpace(file))
		require.NoError(t, err)
		require.Contains(t, string(text), example)
		s, err := ParseSetting(example)
		require.NoError(t, err)
		_, err = Ask(ctx, r, run1, Question{Settings: []Setting{s}})
		require.NoError(t, err, example)
	}
}

// TestLimitsThatMoveTogether: an act beyond its warning is refused in words
// that stand for themselves, with a warning to go with it that is then taken.
// The default config has warn 70 kPa and act 20 kPa, as the config command
// prints them.
func TestLimitsThatMoveTogether(t *testing.T) {
	r := played(t, "kinked_hose")
	for _, c := range []struct{ set, also, source string }{
		{"rules.inlet_low.act=15psi", "rules.inlet_low.warn=", "the two of the default"},
		{`rules.inlet_low.act="1 bar"`, "rules.inlet_low.warn=", ""},
		{"rules.water_hot.warn=150°F", "rules.water_hot.act=", ""},
	} {
		s, err := ParseSetting(c.set)
		require.NoError(t, err)
		_, err = Ask(ctx, r, run1, Question{Settings: []Setting{s}})
		require.ErrorContains(t, err, "cannot use these settings with the config in force:")
		require.NotContains(t, err.Error(), "the config the config")
		_, rest, ok := strings.Cut(err.Error(), "change "+c.also)
		require.True(t, ok, err.Error())
		value, _, _ := strings.Cut(rest, " too")
		p, err := ParseSetting(c.also + value)
		require.NoError(t, err)
		_, err = Ask(ctx, r, run1, Question{Settings: []Setting{s, p}})
		require.NoError(t, err, "%s with %s%s", c.set, c.also, value)
	}
	s, err := ParseSetting("rules.inlet_low.act=tall")
	require.NoError(t, err)
	_, err = Ask(ctx, r, run1, Question{Settings: []Setting{s}})
	require.ErrorContains(t, err, "rules.inlet_low.act")
	require.NotContains(t, err.Error(), "Move the other")
}
