package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/bench"
	"headroom/daemon/bench/rig"
	"headroom/daemon/config"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/csvfile"
)

// benchCommand runs one command line and returns what it printed.
func benchCommand(t *testing.T, folder string, words ...string) (out, errOut string, code int) {
	var o, e bytes.Buffer
	args := append([]string{"bench", words[0], "-folder", folder, "-units", "SI"}, words[1:]...)
	code = run(context.Background(), args, stdio{strings.NewReader(""), &o, &e})
	return o.String(), e.String(), code
}

// newestTest is the ID of the newest test in a folder.
func newestTest(t *testing.T, folder string) string {
	all, bad := bench.NewStore(folder).List()
	require.Empty(t, bad)
	require.NotEmpty(t, all)
	return all[len(all)-1].ID
}

// TestBenchCommand is a new user's way from the first test to the certificate.
func TestBenchCommand(t *testing.T) {
	folder := t.TempDir()
	out, _, code := benchCommand(t, folder, "pumps")
	require.Zero(t, code)
	require.Contains(t, out, "invented triplex")

	out, _, code = benchCommand(t, folder, "run", "-sim", "worn-valves", "-who", "me", "-serial", "before")
	require.Zero(t, code)
	require.Contains(t, out, "Verdict: practice, no certificate")
	require.Contains(t, out, "would give: fail")
	before := newestTest(t, folder)
	out, errOut, code := benchCommand(t, folder, "run", "-sim", "new", "-who", "me", "-serial", "zafter")
	require.Zero(t, code, errOut)
	require.Contains(t, out, "whole")
	after := newestTest(t, folder)
	if after == before { // both within one second, in the order of their names
		all, _ := bench.NewStore(folder).List()
		before = all[0].ID
	}

	out, _, code = benchCommand(t, folder, "list")
	require.Zero(t, code)
	require.Equal(t, 2, strings.Count(out, "whole"), out)
	require.Equal(t, 2, strings.Count(out, "the simulator, an invented pump"), out)

	out, _, code = benchCommand(t, folder, "show", "-json", after)
	require.Zero(t, code)
	require.True(t, json.Valid([]byte(out)))

	page := filepath.Join(t.TempDir(), "c.html")
	out, errOut, code = benchCommand(t, folder, "certificate", "-o", page, "-before", before, after)
	require.Zero(t, code, errOut)
	require.Contains(t, out, page)
	text, err := os.ReadFile(page)
	require.NoError(t, err)
	require.Contains(t, string(text), "Before and after")
	require.NotContains(t, string(text), "Accepted by", "nobody signs a simulation")
	require.Contains(t, out, "PRACTICE")

	out, errOut, code = benchCommand(t, folder, "compare", before, after)
	require.Zero(t, code, errOut)
	require.Contains(t, out, "changed")
}

// TestBenchBaselineCommand writes a test's points into a config.
func TestBenchBaselineCommand(t *testing.T) {
	folder := t.TempDir()
	_, errOut, code := benchCommand(t, folder, "run", "-sim", "new", "-who", "me", "-seed", "3", "-no-inlet")
	require.Zero(t, code, errOut)
	id := newestTest(t, folder)
	file := filepath.Join(t.TempDir(), "my.toml")
	require.NoError(t, os.WriteFile(file, []byte("[machine]\nname = \"mine\"\n"), 0o600))
	_, errOut, code = benchCommand(t, folder, "accept-baseline", "-config", file, "-write", id)
	require.NotZero(t, code)
	require.Contains(t, errOut, "no pump was tested", "practice is nobody's baseline")
	require.NoFileExists(t, file+".before-baseline")

	tests := bench.NewStore(folder)
	r, err := tests.Load(id)
	require.NoError(t, err)
	r.Source = bench.OwnSensors
	require.NoError(t, tests.Save(r))
	_, errOut, code = benchCommand(t, folder, "accept-baseline", "-config", file, "-write", id)
	require.Zero(t, code, errOut)
	cfg, err := config.Load(file)
	require.NoError(t, err)
	require.Equal(t, 6, cfg.Engine.Plant.Baseline.N)
	_, err = os.Stat(file + ".before-baseline")
	require.NoError(t, err)
}

// TestBenchLeavesNoRubbish: what can't begin leaves no test, practice can be
// deleted, and a test of a pump only with a second word.
func TestBenchLeavesNoRubbish(t *testing.T) {
	folder := t.TempDir()
	for _, words := range [][]string{
		{"run", "-sim", "foo", "-who", "me"}, {"run", "-who", "me"}, {"run", "-who", "me", "-playback", "none.csv"},
		{"run", "-who", "me", "-sim", "new", "-playback", "none.csv"}, {"run", "-who", "me", "-sim", "new", "-pump", "invented triplex, 15 L/min at 14 MPa"},
	} {
		_, errOut, code := benchCommand(t, folder, words...)
		require.Equal(t, exitError, code, "%v", words)
		require.NotContains(t, errOut, "is kept", "%v", words)
		all, _ := bench.NewStore(folder).List()
		require.Empty(t, all, "%v", words)
	}
	lib := bench.Generic()
	plan, err := bench.NewPlan(lib.Pumps[0], bench.DefaultChoice())
	require.NoError(t, err)
	keep := func(source string, at int, state bench.State) string {
		s, err := bench.NewSession(bench.Setup{Pump: lib.Pumps[0], Plan: plan, Who: "me", Source: source, Began: time.Unix(int64(1e9+at), 0)})
		require.NoError(t, err)
		r := s.Record()
		r.State = state
		require.NoError(t, bench.NewStore(folder).Save(r))
		return r.ID
	}
	demo, cut := keep("Simulated: an invented machine", 0, bench.Running), keep(bench.OwnSensors, 1, bench.Running)
	whole := keep(bench.OwnSensors, 2, bench.Aborted)
	_, errOut, code := benchCommand(t, folder, "resume", demo)
	require.Equal(t, exitError, code)
	require.Contains(t, errOut, "takes its readings from: Simulated: an invented machine")
	out, _, _ := benchCommand(t, folder, "list")
	require.Contains(t, out, "PARTIAL (not ended)")
	_, errOut, code = benchCommand(t, folder, "delete", demo, whole)
	require.Equal(t, exitError, code)
	require.Contains(t, errOut, "-force")
	require.True(t, bench.NewStore(folder).Has(demo), "all or none")
	_, errOut, code = benchCommand(t, folder, "delete", demo, cut)
	require.Zero(t, code, errOut)
	_, errOut, code = benchCommand(t, folder, "delete", "-force", whole)
	require.Zero(t, code, errOut)
	all, _ := bench.NewStore(folder).List()
	require.Empty(t, all)
}

// TestBenchErrors: one clear line that names the mend.
func TestBenchErrors(t *testing.T) {
	folder := t.TempDir()
	for _, c := range []struct {
		words []string
		want  string
		code  int
	}{
		{[]string{"nonsense"}, "bench knows no", exitUsage},
		{[]string{"run"}, "-who NAME", exitError},
		{[]string{"run", "-who", "me"}, "-sim new to try it out", exitError},
		{[]string{"run", "-who", "me", "-sim", "broken"}, `there is no condition "broken"`, exitError},
		{[]string{"run", "-who", "me", "-pump", "x"}, "headroom bench pumps lists them", exitError},
		{[]string{"run", "-who", "me", "-window", "1"}, "give 10 to 600", exitError},
		{[]string{"show", "nothing"}, "headroom bench list shows them", exitError},
		{[]string{"show", "../../etc/passwd"}, "not the name of a test", exitError},
		{[]string{"compare", "one"}, "name two tests", exitError},
		{[]string{"trend", "flwo"}, `no figure "flwo"`, exitError},
		{[]string{"accept-baseline", "x"}, "-config FILE", exitError},
	} {
		_, errOut, code := benchCommand(t, folder, c.words...)
		require.Equal(t, c.code, code, c.words)
		require.Contains(t, errOut, c.want, c.words)
	}
}

// writeRecording plays a plan on a bench and records what its sensors show.
func writeRecording(t *testing.T, path string, b *rig.Bench, sens *rig.Sensors, plan bench.Plan) {
	file, err := os.Create(path)
	require.NoError(t, err)
	defer file.Close()
	w, err := csvfile.NewWriter(file, rig.Channels(), csvfile.About{})
	require.NoError(t, err)
	began := time.Date(2026, 5, 4, 8, 0, 0, 0, time.UTC)
	var f frame.Frame
	for _, s := range plan.Steps {
		times := 1
		if s.Kind == bench.Inlet {
			times = 11
		}
		for range times {
			b.Begin(s)
			for range int(s.WindowS+25) * 10 {
				b.Advance()
				v := b.Values()
				sens.Read(&v, &f)
				require.NoError(t, w.Write(b.Now(), began.Add(b.Now()), &f))
			}
		}
	}
	require.NoError(t, w.Flush())
}

// TestBenchFromARecording: what the sensors of a simulated bench showed is
// written as a recording and gives the same figures, but for what a person
// told, so that the test is partial.
func TestBenchFromARecording(t *testing.T) {
	lib := bench.Generic()
	plan, err := bench.NewPlan(lib.Pumps[0], bench.DefaultChoice())
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(5, 5))
	truth, err := rig.Draw(rig.New, rng)
	require.NoError(t, err)
	b, err := rig.NewBench(truth, lib.Pumps[0])
	require.NoError(t, err)
	sens := rig.NewSensors(lib.Instruments, rng)
	file := filepath.Join(t.TempDir(), "day.csv")
	writeRecording(t, file, b, sens, plan)
	folder := t.TempDir()
	out, errOut, code := benchCommand(t, folder, "run", "-playback", file, "-who", "me")
	require.Zero(t, code, errOut)
	require.Contains(t, out, "PARTIAL")
	r, err := bench.NewStore(folder).Load(newestTest(t, folder))
	require.NoError(t, err)
	require.Len(t, r.Missing(), 3, "only what a person would have told: %v", r.Missing())
	for f := range bench.NumFigures {
		res := r.Figure(f)
		require.Equal(t, f != bench.PackingLeak, res.OK, "%s: %s", f, res.Why)
	}
	require.InDelta(t, 0.95, r.Figure(bench.VolumetricEff).Value, 0.02)
}

// TestBenchTalk: what a person types at the terminal.
func TestBenchTalk(t *testing.T) {
	lib := bench.Generic()
	plan, err := bench.NewPlan(lib.Pumps[0], bench.DefaultChoice())
	require.NoError(t, err)
	s, err := bench.NewSession(bench.Setup{Pump: lib.Pumps[0], Plan: plan, Who: "me", Began: time.Unix(1e9, 0)})
	require.NoError(t, err)
	var out bytes.Buffer
	talk := benchTalk{s: s, sys: units.SI, io: stdio{nil, &out, &out}}
	talk.tell()
	require.Contains(t, out.String(), "Switch the pump off")
	require.ErrorContains(t, talk.act("take"), "cannot take the point yet")
	require.ErrorContains(t, talk.act("skip"), "needs a reason")
	require.ErrorContains(t, talk.act("hello"), "neither a word nor a value")
	for s.View(units.SI).Step.Kind != bench.Bucket {
		require.NoError(t, talk.act("skip not today"))
	}
	require.ErrorContains(t, talk.act("7.5 L/min"), "neither a word nor a value")
	require.NoError(t, talk.act("7.5 L/min off 0.05 L/min"))
	require.InDelta(t, 7.5e-3/60, s.Record().Entries[0].Value, 1e-9)
	require.NoError(t, talk.act("back"))
	require.NoError(t, talk.act("abort lunch"))
	require.True(t, s.Done())
}
