package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// call runs one command line and returns what it printed.
func call(t *testing.T, args ...string) (code int, out, errs string) {
	var o, e bytes.Buffer
	code = run(t.Context(), args, stdio{strings.NewReader(""), &o, &e})
	return code, o.String(), e.String()
}

func write(t *testing.T, name, text string) string {
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	return path
}

func TestUsage(t *testing.T) {
	for _, c := range []struct {
		args     []string
		code     int
		out, err string
	}{
		{[]string{"help"}, exitOK, "no certified safety device", ""},
		{[]string{"version"}, exitOK, "headroom ", ""},
		{[]string{"config"}, exitOK, "[machine]", ""},
		{[]string{"nonsense"}, exitUsage, "", `no command "nonsense"`},
		{[]string{"replay"}, exitUsage, "", "usage: headroom replay"},
		{[]string{"replay", "-nonsense"}, exitUsage, "", "flag provided but not defined"},
		{[]string{"replay", "/does/not/exist.csv"}, exitError, "", "cannot open the recording"},
		{[]string{"check"}, exitUsage, "", "usage: headroom check"},
		{[]string{"run", "recording.csv"}, exitError, "", "did you mean headroom replay"},
		{[]string{"-listen", "256.0.0.1:1", "-no-record"}, exitError, "", "cannot serve the dashboard"},
		{[]string{"record", "list", "-record", "/does/not/exist"}, exitError, "", "/does/not/exist"},
		{[]string{"-speed", "8", "-listen", "127.0.0.1:0"}, exitError, "", "overlap the days after: add -no-record"},
		{[]string{"replay", "-h"}, exitOK, "", "usage: headroom replay"},
		{[]string{"help", "bench"}, exitOK, "accept-baseline", ""},
		{[]string{"help", "bench", "run"}, exitOK, "-playback", ""},
		{[]string{"help", "whatif"}, exitOK, "-set", ""},
		{[]string{"help", "version"}, exitOK, "print the version", ""},
		{[]string{"help", "nonsense"}, exitUsage, "", `no command "nonsense"`},
		{[]string{"bench", "show", "last", "-folder", "/does/not/exist"}, exitError, "", "no test in /does/not/exist yet"},
		{[]string{"replay", "--", "-units"}, exitError, "", "cannot open the recording"},
	} {
		code, out, errs := call(t, c.args...)
		require.Equal(t, c.code, code, "%v: %s%s", c.args, out, errs)
		require.Contains(t, out, c.out)
		require.Contains(t, errs, c.err)
	}
}

func TestCheckNamesEveryMistakeAtOnce(t *testing.T) {
	code, out, _ := call(t, "check", write(t, "my.toml", `
[machine]
rated_pressure = "1300"
rated_sped = "1725 rpm"
[circuit]
rating = "200000 A"
[rules.inlet_low]
warn = "70 °C"
on = "yes"
`))
	require.Equal(t, exitError, code)
	for _, want := range []string{":3:", ":4:", "rated_speed", ":6:", ":8:", ":9:", "5 mistakes"} {
		require.Contains(t, out, want)
	}
	code, out, _ = call(t, "check", write(t, "my.toml", "[remote]\nurl = \"ftp://store\"\nlabels = [\"site\"]\n"))
	require.Equal(t, exitError, code, "what would not start is not good: %s", out)
	require.Contains(t, out, `[remote]: the url must begin with http:// or https:// and a host; the label "site" is not like`)

	code, out, _ = call(t, "check", "../testdata/pump-loop/pump-loop.toml")
	require.Equal(t, exitOK, code, out)
}

const loggerMap = `
base = "bare"
[csv]
delimiter = ","
[csv.time]
column = "time"
format = "YYYY-MM-DD hh:mm:ss"
[[csv.column]]
name = "p"
channel = "inlet_pressure"
unit = "psi"
[[csv.column]]
name = "q"
channel = "flow"
unit = "gpm"
[channels.inlet_pressure]
fitted = true
[channels.flow]
fitted = true
[rules.inlet_high]
on = true
`

// A recording with everything that goes wrong in one: each bad row is named
// with its line, what can be used is used, and nothing panics.
func TestReplayOfAWreck(t *testing.T) {
	csv := write(t, "wreck.csv", strings.Join([]string{
		"time,p,q",
		"2026-01-01 10:00:00,40,2.0",
		"2026-01-01 10:00:01,NaN,2.0",
		"2026-01-01 10:00:02,41,two",
		"2026-01-01 10:00:02,41,2.0", // the same time again
		"2026-01-01 09:59:00,41,2.0", // backwards
		"yesterday,41,2.0",
		"2026-01-01 10:00:03,42,",      // the flow is gone
		"2026-01-01 10:00:04,42,2.0,7", // a field too many
		"2026-01-01 10:00:05,120,2.0",
		"2026-01-01 10:00:06,120,2.0",
		"2026-01-01 10:00:07,120,2.0",
		"2026-01-01 10:0", // cut off
	}, "\n"))
	side := write(t, "logger.toml", loggerMap)
	code, out, errs := call(t, "replay", "-config", side, csv)
	require.Equal(t, exitOK, code, errs)
	for _, line := range []string{"wreck.csv:3", "wreck.csv:4", "wreck.csv:5", "wreck.csv:6", "wreck.csv:7", "wreck.csv:9", "wreck.csv:13"} {
		require.Contains(t, errs, line)
	}
	require.Contains(t, out, "Supply pressure is over the pump's limit (120.0 psi, limit 100.1 psi)")
	require.Contains(t, out, "BEYOND LIMITS")

	code, _, errs = call(t, "replay", "-strict", "-config", side, csv)
	require.Equal(t, exitError, code)
	require.Contains(t, errs, "wreck.csv:3")
}

// TestASlowLoggersRecording: a row in ten seconds is judged, and both ways in
// say what that means; the boot keeps the config that makes it the same again.
func TestASlowLoggersRecording(t *testing.T) {
	var rows strings.Builder
	rows.WriteString("time,p,q\n")
	for i := range 30 {
		fmt.Fprintf(&rows, "2026-01-01 10:%02d:%02d,120,2.0\n", i/6, i%6*10)
	}
	csv, side := write(t, "slow.csv", rows.String()), write(t, "logger.toml", loggerMap)
	code, out, errs := call(t, "replay", "-config", side, csv)
	require.Equal(t, exitOK, code, errs)
	require.Contains(t, out, "gaps up to 25 s are bridged instead of states.max_gap, 5.0 s")
	require.Contains(t, out, "BEYOND LIMITS")
	require.Contains(t, out, "0 gaps")

	dir := t.TempDir()
	code, out, errs = call(t, "record", "import", "-record", dir, "-config", side, csv)
	require.Equal(t, exitOK, code, errs)
	require.Contains(t, out, "gaps up to 25 s are bridged")
	code, out, errs = call(t, "record", "verify", "-record", dir, "-replay")
	require.Equal(t, exitOK, code, errs)
	require.Contains(t, out, "the same verdicts to the last bit")

	said := write(t, "said.toml", loggerMap+"[states]\nmax_gap = \"2 s\"\n")
	code, _, errs = call(t, "record", "import", "-record", dir, "-config", said, csv)
	require.Equal(t, exitError, code)
	require.Contains(t, errs, `write max_gap = "25 s" under [states]`)
}

func TestReplayJSONIsOneObjectALine(t *testing.T) {
	csv := write(t, "job.csv", "time,p,q\n2026-01-01 10:00:00,120,2\n2026-01-01 10:00:01,120,2\n2026-01-01 10:00:02,120,2\n")
	require.NoError(t, os.WriteFile(strings.TrimSuffix(csv, ".csv")+".toml", []byte(loggerMap), 0o644)) // found by its name
	code, out, errs := call(t, "replay", "-json", "-digest", csv)
	require.Equal(t, exitOK, code, errs)
	lines := strings.Split(strings.TrimSpace(out), "\n")
	var first, last map[string]any
	require.NoError(t, json.Unmarshal([]byte(lines[0]), &first))
	require.NoError(t, json.Unmarshal([]byte(lines[len(lines)-1]), &last))
	require.Equal(t, "inlet_high.warn", first["alarm"])
	require.Equal(t, "summary", last["type"])
	require.Len(t, last["verdict_digest"], 64)
}

func TestReplayWithoutTheMappedColumnNamesWhatThereIs(t *testing.T) {
	side := write(t, "logger.toml", loggerMap)
	code, _, errs := call(t, "replay", "-config", side, write(t, "other.csv", "time,pressure,q\n2026-01-01 10:00:00,1,2\n"))
	require.Equal(t, exitError, code)
	require.Contains(t, errs, `"p"`)
	require.Contains(t, errs, "pressure")
}

// The whole way of a recording: watched live, recorded, listed, exported with
// its config, and replayed.
// TestPlaybackOfNothingIsRefused at once, with the reason.
func TestPlaybackOfNothingIsRefused(t *testing.T) {
	for text, want := range map[string]string{
		"t_ns,flow_m3_s,flow_status\n":                     "it has no row",
		"t_ns,flow_m3_s,flow_status\nx,1,good\ny,2,good\n": "it has no usable row",
	} {
		file := write(t, "none.csv", text)
		code, _, errs := call(t, "run", "-playback", file, "-no-record", "-listen", "127.0.0.1:0")
		require.Equal(t, exitError, code)
		if !strings.Contains(errs, want) { // the header itself may be refused, which is as well
			require.Contains(t, errs, "none.csv")
		}
		require.NotContains(t, errs, "trying again")
	}
}

// TestListenSaysHowItIsWritten, in the words of check.
func TestListenSaysHowItIsWritten(t *testing.T) {
	for _, bad := range []string{"8080", "localhost", "127.0.0.1:web", ":70000"} {
		code, _, errs := call(t, "run", "-no-record", "-listen", bad)
		require.Equal(t, exitError, code)
		require.Contains(t, errs, "is no host and port", bad)
		require.Contains(t, errs, "127.0.0.1:8080", bad)
	}
}

func TestRunRecordExportReplay(t *testing.T) {
	folder := t.TempDir()
	ctx, cancel := context.WithTimeout(t.Context(), 4*time.Second)
	defer cancel()
	var out, errs bytes.Buffer
	code := run(ctx, []string{"-record", folder, "-listen", "127.0.0.1:0", "-speed", "40"}, stdio{strings.NewReader(""), &out, &errs})
	require.Equal(t, exitOK, code, errs.String())
	require.Contains(t, out.String(), "Dashboard: http://127.0.0.1:")
	require.Contains(t, out.String(), "Simulated")

	code, list, e := call(t, "record", "list", "-record", folder)
	require.Equal(t, exitOK, code, e)
	require.Contains(t, list, "Demo jetter")
	require.Contains(t, list, "SIMULATED")
	code, life, e := call(t, "record", "life", "-record", folder)
	require.Equal(t, exitOK, code, e)
	require.Regexp(t, `starts +0\n`, life, "a simulator is no machine's life")
	require.Contains(t, life, "not counted: practice")
	code, due, e := call(t, "service", "-record", folder)
	require.Equal(t, exitOK, code, e)
	require.Contains(t, due, "The pump has run 0.0 s in 0 uses")
	for _, words := range [][]string{{"review", "-record", folder}, {"report", "-record", folder}, {"record", "export", "-record", folder}, {"record", "sheet", "-record", folder}} {
		code, told, e := call(t, words...)
		require.Equal(t, exitOK, code, e)
		require.Contains(t, told, "SIMULATED – practice only", "%v", words)
	}
	csv := filepath.Join(t.TempDir(), "job.csv")
	code, _, e = call(t, "record", "export", "-record", folder, "-o", csv)
	require.Equal(t, exitOK, code, e)
	require.FileExists(t, strings.TrimSuffix(csv, ".csv")+".toml")
	code, report, e := call(t, "replay", csv)
	require.Equal(t, exitOK, code, e)
	require.Contains(t, report, "0 rows skipped")
	require.Contains(t, report, "Verdict:")
}

// A recording that is played fast stands in the record at its own pace, and its
// rounds are parted by a gap.
func TestPlaybackKeepsItsPaceAndPartsItsRounds(t *testing.T) {
	if os.Getenv("HEADROOM_EMULATOR") != "" {
		t.Skip("an emulated processor doesn't keep a pace of five")
	}
	var csv strings.Builder
	csv.WriteString("t_ns,wall,inlet_pressure_pa,inlet_pressure_status,motor_current_a,motor_current_status\n")
	for i := range 21 {
		pa := 300e3 // invented: it falls 10 s after the start
		if i >= 10 {
			pa = 100e3
		}
		fmt.Fprintf(&csv, "%d,,%g,good,10,good\n", i*1_000_000_000, pa)
	}
	folder := t.TempDir()
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	var out, errs bytes.Buffer
	code := run(ctx, []string{"-playback", write(t, "fall.csv", csv.String()), "-record", folder, "-listen", "127.0.0.1:0", "-speed", "5"}, stdio{strings.NewReader(""), &out, &errs})
	require.Equal(t, exitOK, code, errs.String())
	require.Contains(t, out.String(), "begins anew, after a gap of 6s")
	code, told, e := call(t, "record", "export", "-record", folder)
	require.Equal(t, exitOK, code, e)
	fell, gap := -1.0, 0.0
	first, last := -1.0, -1.0
	for line := range strings.Lines(told) {
		cells := strings.Split(strings.TrimSpace(line), ",")
		ns, err := strconv.ParseFloat(cells[0], 64)
		if err != nil {
			continue
		}
		at := ns / 1e9
		if first < 0 && strings.Contains(line, ",300000,good") {
			first = at
		}
		if last >= 0 {
			gap = max(gap, at-last)
		}
		last = at
		if fell < 0 && strings.Contains(line, ",100000,good") {
			fell = at - first
		}
	}
	require.InDelta(t, 10, fell, 3, "10 s as recorded; a busy computer may be late")
	require.InDelta(t, 8.5, gap, 2.5, "the rest of 6 s and the last step of 1 s")
	for _, words := range [][]string{{"review", "-record", folder}, {"record", "life", "-record", folder}, {"replay", write(t, "again.csv", csv.String())}} {
		code, told, e := call(t, words...)
		require.Equal(t, exitOK, code, e)
		require.Regexp(t, `water( drawn)?:? +not measured`, told, "nothing measured it: %v", words)
		require.NotContains(t, told, "told from the flow", "%v", words)
	}
}
