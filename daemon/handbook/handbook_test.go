package handbook_test

import (
	"flag"
	"html"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/daemon/handbook"
	"headroom/daemon/snapshot"
	"headroom/dashboard"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/words"
)

var update = flag.Bool("update", false, "write deploy/HANDBOOK.md anew")

const page = "../../deploy/HANDBOOK.md"

func TestPageIsCurrent(t *testing.T) {
	want := handbook.Markdown(handbook.Build(config.Default()))
	if *update {
		require.NoError(t, os.WriteFile(page, []byte(want), 0o644))
	}
	got, err := os.ReadFile(page)
	require.NoError(t, err, "write it with: go test ./daemon/handbook -update")
	if string(got) != want {
		t.Fatal("deploy/HANDBOOK.md is not current; write it anew with: go test ./daemon/handbook -update")
	}
}

// ANSI/ISA-18.2 and IEC 62682 ask that each alarm has its setpoint, cause,
// consequence, response, priority, delay and deadband on record.
func TestEveryAlarmOfTheConfigIsThereAndComplete(t *testing.T) {
	cfg := config.Default()
	h := handbook.Build(cfg)
	require.Len(t, h.Entries, int(engine.NumRules))
	seen := map[string]bool{}
	for r := range engine.NumRules {
		e, lim := h.Entries[r], cfg.Engine.Rules[r]
		require.Equal(t, r.String(), e.Rule)
		for _, text := range []string{e.Label, e.Judges, e.Cause, e.Consequence, e.GoesBack, e.Applies, e.Suppressed, e.Source} {
			require.NotEmpty(t, text, e.Rule)
		}
		want := 0
		for _, has := range []bool{lim.HasWarn, lim.HasAct} {
			if has {
				want++
			}
		}
		require.Len(t, e.Stages, want, e.Rule)
		for _, st := range e.Stages {
			for _, text := range []string{st.Title, st.Level, st.Limit, st.Delay, st.DelayWhy, st.Latch, st.Response} {
				require.NotEmpty(t, text, st.Alarm)
			}
			seen[st.Alarm] = true
		}
	}
	for _, st := range h.Sensors.Rows {
		seen[st.Alarm] = true
	}
	for a := range engine.AlarmID(engine.NumAlarms) {
		r, ok := a.Rule()
		if lim := &cfg.Engine.Rules[min(r, engine.NumRules-1)]; ok && (a == engine.WarnAlarm(r) && !lim.HasWarn || a == engine.ActAlarm(r) && !lim.HasAct) {
			continue
		}
		require.True(t, seen[a.String()], a.String())
	}
	require.Len(t, h.Sensors.Rows, int(frame.NumChannels))
}

func TestWhatAnEntrySays(t *testing.T) {
	h := handbook.Build(config.Default())
	low := h.Entries[engine.InletLow]
	require.Equal(t, "70 kPa (10.2 psi) or below", low.Stages[0].Limit)
	require.Equal(t, "Act now", low.Stages[1].Level)
	require.Equal(t, "1.0 s", low.Stages[1].Delay)
	require.Contains(t, low.Stages[0].DelayWhy, "starving pump wears in seconds")
	require.Equal(t, "5 kPa (0.7 psi) inside the limit, for 2.0 s", low.GoesBack)
	require.Equal(t, "running, bypassing", low.Applies)
	require.Contains(t, low.Suppressed, "stopped")
	require.Equal(t, []string{words.Rule(engine.TankLow)}, low.Under)
	require.Contains(t, low.Over, words.Rule(engine.NPSHMargin))
	require.Contains(t, h.Entries[engine.WaterHot].Stages[1].Limit, "60.0 °C (140 °F) or above")
	require.Contains(t, h.Entries[engine.StartJam].Stages[1].Latch, "who starts it again must know")
	require.Equal(t, "no", h.Entries[engine.InletLow].Stages[1].Latch)
	require.Equal(t, []string{"every other rule"}, h.Entries[engine.Departure].Under)
	require.Equal(t, "Switched off in this configuration.", h.Entries[engine.Departure].Off)
	require.Contains(t, h.Sensors.DelayWhy, "one lost reading is no fault")
}

func TestTheMachinesOwnConfigIsWhatCounts(t *testing.T) {
	cfg := config.Default()
	lim := &cfg.Engine.Rules[engine.InletLow]
	lim.ActOn, lim.Act, lim.Source, lim.Latch = 7*time.Second, 30e3, "the pump's data sheet", true
	lim.HasWarn, lim.Deadband, lim.Off = false, 0, 0
	cfg.Engine.SensorOn = time.Second
	h := handbook.Build(cfg)
	e := h.Entries[engine.InletLow]
	require.Len(t, e.Stages, 1)
	require.Equal(t, "7.0 s", e.Stages[0].Delay)
	require.Equal(t, "set in this configuration; the default is 1 s: a starving pump wears in seconds; a pulse of the valves is shorter", e.Stages[0].DelayWhy)
	require.Equal(t, "30 kPa (4.4 psi) or below", e.Stages[0].Limit)
	require.Equal(t, "yes, until a person resets it", e.Stages[0].Latch)
	require.Equal(t, "inside the limit", e.GoesBack)
	require.Equal(t, "the pump's data sheet", e.Source)
	require.Contains(t, h.Sensors.DelayWhy, "the default is 3 s")

	lim.HasAct = false
	require.Equal(t, "Has no limit in this configuration.", handbook.Build(cfg).Entries[engine.InletLow].Off)
}

func TestMarkdownHasNoEmptyPlace(t *testing.T) {
	text := handbook.Markdown(handbook.Build(config.Default()))
	require.NotContains(t, text, "%!")
	require.NotContains(t, text, "()")
	require.NotContains(t, text, "for the same reason", "which one, on a page of its own?")
	for n, l := range strings.Split(text, "\n") {
		require.False(t, strings.HasSuffix(l, ": "), "line %d ends with nothing: %s", n+1, l)
		require.NotContains(t, l, ":  ")
	}
	require.Equal(t, text, handbook.Markdown(handbook.Build(config.Default())), "the same each time")
}

// The page shows the same data: every alarm of it, with what to do.
func TestServedPageHoldsEveryAlarm(t *testing.T) {
	h := handbook.Build(config.Default())
	w := httptest.NewRecorder()
	dashboard.New(dashboard.Options{Store: snapshot.NewStore(), Handbook: h}).ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://localhost/handbook", nil))
	require.Equal(t, http.StatusOK, w.Code)
	page := html.UnescapeString(w.Body.String())
	for i := range h.Entries {
		e := &h.Entries[i]
		for _, text := range []string{e.Cause, e.Consequence, e.GoesBack, e.Source, e.Applies} {
			require.Contains(t, page, text)
		}
		for _, st := range e.Stages {
			for _, text := range []string{st.Alarm, st.Title, st.Response, st.Limit, st.Delay, st.DelayWhy, st.Latch} {
				require.Contains(t, page, text)
			}
		}
	}
	for _, st := range h.Sensors.Rows {
		require.Contains(t, page, st.Title)
	}
	require.Equal(t, 1, strings.Count(page, "<script"), "the line about alarms alone is renewed")
	require.NotContains(t, page, "http")
	if dir := os.Getenv("HEADROOM_SCREENSHOTS"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "handbook.html"), w.Body.Bytes(), 0o644))
	}
}
