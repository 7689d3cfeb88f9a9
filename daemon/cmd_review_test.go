package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/review/recordtest"
)

// said runs a command line and returns what it printed.
func said(t *testing.T, args ...string) (out, errs string, code int) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(context.Background(), args, stdio{strings.NewReader(""), &o, &e})
	return o.String(), e.String(), code
}

// TestPastRuns uses review, whatif and report as a new user would.
func TestPastRuns(t *testing.T) {
	dir := recordtest.Play(t, recordtest.Script{Scenario: "kinked_hose"})
	out, errs, code := said(t, "review", "-record", dir)
	require.Zero(t, code, errs)
	require.Contains(t, out, "Inlet pressure fell from")
	require.Contains(t, out, "What the record can not tell")
	out, _, code = said(t, "review", "-record", dir, "-json", "-units", "us", "1.1")
	require.Zero(t, code)
	var account map[string]any
	require.NoError(t, json.Unmarshal([]byte(out), &account))
	require.Equal(t, "1.1", account["run"])
	out, _, code = said(t, "review", "-record", dir, "-verify", "1")
	require.Zero(t, code)
	require.Contains(t, out, "every figure is what the record holds")

	out, errs, code = said(t, "whatif", "-record", dir, "-set", "rules.inlet_low.warn=200 kPa", "-set", "supply_hose.length=100 ft")
	require.Zero(t, code, errs)
	require.Contains(t, out, "1 earlier")
	out, _, code = said(t, "whatif", "-record", dir)
	require.Zero(t, code)
	require.Contains(t, out, "No difference")

	file := filepath.Join(t.TempDir(), "report.html")
	_, errs, code = said(t, "report", "-record", dir, "-run", "1.1", "-o", file)
	require.Zero(t, code, errs)
	page, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Contains(t, string(page), "Report of run 1.1")
	out, _, code = said(t, "report", "-record", dir, "-paper", "letter")
	require.Zero(t, code)
	require.Contains(t, out, "size: letter")
}

// TestWhatNeverRanIsTold: with a motor that stalled at its start there is no
// run, and the commands that take the newest find what happened.
func TestWhatNeverRanIsTold(t *testing.T) {
	dir := recordtest.Play(t, recordtest.Script{Scenario: "jam_at_start"})
	title := alarmWords("start_jam.act")
	out, errs, code := said(t, "record", "list", "-record", dir)
	require.Zero(t, code, errs)
	require.Regexp(t, `(?m)^1 .* outside of runs$`, out)
	require.Contains(t, out, "Without a run: boot 1.", "it can be exported too")
	for _, args := range [][]string{{"review"}, {"report"}, {"whatif"}} {
		out, errs, code = said(t, append(args, "-record", dir)...)
		require.Zero(t, code, errs)
		if args[0] != "whatif" {
			require.Contains(t, out, title, args)
		}
	}
}

// TestPastRunsMistakes: each names the place and the mend.
func TestPastRunsMistakes(t *testing.T) {
	dir := recordtest.Play(t, recordtest.Script{Scenario: "purge"})
	t.Setenv("PATH", t.TempDir())
	for _, x := range []struct {
		args []string
		says string
		code int
	}{
		{[]string{"review", "-record", filepath.Join(dir, "none")}, "-record", exitError},
		{[]string{"review", "-record", dir, "9.9"}, "no boot 9", exitError},
		{[]string{"review", "-record", dir, "x"}, "record list", exitError},
		{[]string{"review", "-record", dir, "-units", "metric"}, "write US or SI", exitError},
		{[]string{"review", "a", "b"}, "usage", exitUsage},
		{[]string{"whatif", "-record", dir, "-set", "nonsense"}, "section.key=value", exitUsage},
		{[]string{"whatif", "-record", dir, "-set", "rules.inlet_low.warm=1", "1"}, "warm", exitError},
		{[]string{"whatif", "-record", dir, "-set", "rules.inlet_low.warn=1 kPa", "-config", "x.toml"}, "either", exitError},
		{[]string{"report", "-record", dir, "-run", "1", "-pdf", filepath.Join(dir, "x.pdf")}, "any browser", exitError},
		{[]string{"report", "-record", dir, "-paper", "A3"}, "A4 or Letter", exitError},
		{[]string{"report", "12.3"}, "usage", exitUsage},
	} {
		_, errs, code := said(t, x.args...)
		require.Equal(t, x.code, code, "%v: %s", x.args, errs)
		require.Contains(t, errs, x.says, "%v", x.args)
	}
}
