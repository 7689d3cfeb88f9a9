package report

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/review"
	"headroom/daemon/review/recordtest"
	"headroom/daemon/store"
	"headroom/dashboard/chart"
	"headroom/deploy/testneed"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/units"
)

var (
	ctx    = context.Background()
	update = flag.Bool("update", false, "write the golden file anew")
	run1   = store.RunID{Boot: 1, N: 1}
)

func html(t testing.TB, p *Report) string {
	var b bytes.Buffer
	require.NoError(t, p.WriteHTML(&b))
	return b.String()
}

// fixture is an invented report with a bit of everything, made by hand so that
// no change of the simulator touches the golden file.
func fixture() *Report {
	const s = time.Second
	h := review.Head{
		ID: store.RunID{Boot: 12, N: 3}, From: 10 * s, To: 200 * s, Start: 20 * s, End: 190 * s, Ended: "cut",
		StartWall: recordtest.StartWall, Clock: review.ClockSynced, Machine: `Demo jetter "<invented>"`, Software: "0.0.0-test", Config: "9f86d081884c7d65",
	}
	amount := review.Evidence{
		Basis: review.OnSamples, Channel: frame.InletPressure, From: 40 * s, To: 44 * s, Figure: review.Median, Value: 280e3, HasValue: true, Count: 41,
	}
	sentence := func(n int, k review.Kind, at time.Duration, level uint8, words string, e ...review.Evidence) review.Sentence {
		return review.Sentence{N: n, Kind: k, From: at, To: at, Level: level, Parts: []review.Part{{Words: words}}, Evidence: e}
	}
	a := review.Account{Head: h, Sentences: []review.Sentence{
		sentence(1, review.KindStart, 20*s, 0, "Run 12.3 began.", review.Evidence{Basis: review.OnFrames, Channel: frame.ShaftSpeed, From: 20 * s, To: 20 * s}),
		{N: 2, Kind: review.KindChange, From: 60 * s, To: 63 * s, Parts: []review.Part{
			{Words: "Inlet pressure fell from "}, {Value: 280e3, Quantity: units.Pressure, Evidence: 1}, {Words: "."},
		}, Evidence: []review.Evidence{amount}},
		sentence(3, review.KindAlarm, 64*s, 3, "Alarm (act now): Pump is starving.", review.Evidence{Basis: review.OnAlarm, Channel: frame.NumChannels, From: 64 * s, To: 64 * s, Name: "inlet_low.act"}),
		sentence(4, review.KindAct, 80*s, 0, "Kim acknowledged “Pump is starving”: “<script>”.", review.Evidence{Basis: review.OnAct, N: 7, Channel: frame.NumChannels}),
	}, CannotTell: []review.Sentence{sentence(5, review.KindLimit, 0, 0, "Who people were.", review.Evidence{Basis: review.OnRecord, Channel: frame.NumChannels, Name: "acts.who"})}}
	a.Summary = review.Summary{
		Span: 170 * s, States: []review.StateTime{{State: machine.Running, Seconds: 150}}, Starts: 1, WaterM3: 0.02, HasWater: true, EnergyJ: 1e5, Complete: true,
		Limits: []review.LimitSum{{
			Rule: engine.InletLow, ExposureSums: store.ExposureSums{BeyondWarnS: 30, BeyondActS: 20, WatchedS: 150, BlindS: 2},
			Worst: store.Worst{Share: -0.5, Headroom: -110e3, T: 66 * s}, HasWorst: true,
		}},
		Alarms: []review.AlarmLife{{
			Name: "inlet_low.act", Title: "Pump is starving", Level: engine.Act, Onset: 63 * s, Raised: 64 * s, Gone: 94 * s, HasGone: true, First: true,
			Value: 18e3, Limit: 20e3, HasValue: true, AckedBy: "Kim", Acked: 80 * s, HasAck: true,
		}, {Name: "npsh_margin.act", Title: "Pump is at the edge of cavitation", Level: engine.Act, Raised: 65 * s, Under: "inlet_low.act"}},
	}
	sheet := chart.Sheet{ID: "c1", Name: "All readings", Describe: "invented", From: 10, To: 200, Panels: []chart.Panel{{
		Name: "Inlet pressure", Unit: "kPa", MinSpan: 20, Bands: []chart.Band{{From: 10, To: 60, Min: 278, Max: 282, Kind: chart.Known}, {From: 60, To: 200, Min: 10, Max: 282, Kind: chart.Known}},
		Limits: []chart.Limit{{Y: 20, Label: "limit", Outer: true}},
	}}, Marks: []chart.SheetMark{{T: 64, Number: 3, Label: "Pump is starving", Strong: true}}}
	return &Report{
		Account: &a, Charts: []chart.Sheet{sheet}, Options: Options{Units: units.SI, Software: "0.0.0-test"},
		Proof: Proof{Record: "a1b2c3d4", Head: "12:9f86d081884c7d65", Position: 12, Text: proves},
	}
}

func TestGolden(t *testing.T) {
	got := html(t, fixture())
	file := filepath.Join("testdata", "report.html")
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err, "run the test with -update to make it")
	require.Equal(t, string(want), got)
	require.NotContains(t, got, "<script")
	require.NotContains(t, got, "ZgotmplZ", "the template refused a value")
	requireWellFormed(t, got)
}

// requireWellFormed reads the page as XML, which HTML written with care is, but
// for its elements without an end.
func requireWellFormed(t testing.TB, page string) {
	dec := xml.NewDecoder(strings.NewReader(page))
	dec.Strict, dec.AutoClose, dec.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	ids := map[string]bool{}
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		require.NoError(t, err)
		if el, ok := tok.(xml.StartElement); ok {
			for _, at := range el.Attr {
				if at.Name.Local == "id" {
					require.False(t, ids[at.Value], "the id %s stands twice", at.Value)
					ids[at.Value] = true
				}
				require.NotContains(t, []string{"src", "href"}, at.Name.Local, "nothing is fetched")
			}
		}
	}
}

func made(t testing.TB, sc recordtest.Script, o Options) *Report {
	r, err := store.OpenReader(recordtest.Play(t, sc))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, r.Close()) })
	o.Software = "0.0.0-test"
	p, err := Make(ctx, r, run1, o)
	require.NoError(t, err)
	return p
}

// TestReportOfARun: what a reader needs stands in it, in the units asked for.
func TestReportOfARun(t *testing.T) {
	p := made(t, kink(), Options{Units: units.US})
	out := html(t, p)
	requireWellFormed(t, out)
	for _, want := range []string{
		"Report of run 1.1", "Demo jetter (invented)", "by the board&#39;s own clock, not checked", "Inlet pressure fell from 37.",
		"Kim acknowledged “Pump is starving”", "What the record can not tell", "Settings in force", "no certified safety device",
		p.Proof.Head, "does not prove that the clock was right", "size: letter", "first-out", "usually: ",
		`class="sheet"`, "Motor current, A", "Rated pressure",
	} {
		require.Contains(t, out, want)
	}
	require.NotEmpty(t, p.Proof.Head)
	for _, wrong := range []string{"kPa", "L/min", "NaN", "<no value>"} {
		require.NotContains(t, out, wrong)
	}
	require.Equal(t, out, html(t, made2(t, p)), "the same record gives the same bytes")
	require.NotEmpty(t, p.Charts)
	for i := range p.Account.Sentences {
		require.Contains(t, out, `id="s`+itoa(p.Account.Sentences[i].N)+`"`)
	}
}

func made2(t testing.TB, p *Report) *Report {
	again := made(t, kink(), Options{Units: units.US})
	again.Proof = p.Proof // each record has its own chain
	return again
}

func itoa(n int) string {
	if n < 10 {
		return string(rune('0' + n))
	}
	return itoa(n/10) + itoa(n%10)
}

func kink() recordtest.Script {
	return recordtest.Script{Scenario: "kinked_hose", Acts: []recordtest.Deed{
		{At: 100 * time.Second, Alarm: "inlet_low.act", Act: alarm.Acknowledge, Who: "Kim"},
	}}
}

// TestChartsHideNoSpike: one bad reading among thousands stands in a band.
func TestChartsHideNoSpike(t *testing.T) {
	p := made(t, recordtest.Script{Scenario: "normal_job", Spoil: func(at time.Duration, f *frame.Frame) bool {
		if at == 77*time.Second {
			f.Set(frame.OutletPressure, 33e6)
		}
		return at < 90*time.Second || at > 95*time.Second
	}}, Options{})
	highest, holes := 0.0, 0
	for _, panel := range p.Charts[0].Panels {
		if panel.Name != frame.OutletPressure.Label() {
			continue
		}
		for _, b := range panel.Bands {
			if b.Kind == chart.Known {
				highest = max(highest, b.Max)
			} else {
				holes++
			}
		}
	}
	require.InDelta(t, 33.0, highest, 0.01)
	require.Positive(t, holes, "five seconds without frames")
}

// holed is a job of which a second in seven was not recorded.
func holed() recordtest.Script {
	return recordtest.Script{Scenario: "normal_job", Spoil: func(at time.Duration, _ *frame.Frame) bool { return at/time.Second%7 != 3 }}
}

// TestALongRunMakesNoLargeFile: ten times the time is not ten times the file,
// in print neither, which is where fills by patterns made forty megabytes.
func TestALongRunMakesNoLargeFile(t *testing.T) {
	r, err := store.OpenReader(recordtest.Play(t, holed()))
	require.NoError(t, err)
	defer func() { require.NoError(t, r.Close()) }()
	boot := store.RunID{Boot: 1}
	whole, err := Make(ctx, r, boot, Options{})
	require.NoError(t, err)
	end := whole.Account.Head.To
	part, err := Make(ctx, r, boot, Options{From: end / 2, To: end/2 + end/10})
	require.NoError(t, err)
	long, short := len(html(t, whole)), len(html(t, part))
	require.Less(t, long, 4*short, "%d bytes for %v and %d for %v", long, end, short, end/10)
	browser := testneed.Program(t, "chromium", browsers...)
	file := filepath.Join(t.TempDir(), "long.pdf")
	require.NoError(t, whole.WritePDF(ctx, browser, file))
	info, err := os.Stat(file)
	require.NoError(t, err)
	require.Less(t, info.Size(), int64(2*long), "a PDF is packed")
}

// TestPDF prints one by a real browser and reads it back.
func TestPDF(t *testing.T) {
	browser := testneed.Program(t, "chromium", browsers...)
	reader := testneed.Program(t, "poppler-utils", "pdftotext")
	p := made(t, kink(), Options{Units: units.SI})
	file := filepath.Join(t.TempDir(), "report.pdf")
	require.NoError(t, p.WritePDF(ctx, browser, file))
	out, err := exec.Command(reader, "-layout", file, "-").Output()
	require.NoError(t, err)
	pages := strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
	require.GreaterOrEqual(t, len(pages), 3)
	require.LessOrEqual(t, len(pages), 9)
	for i, page := range pages {
		require.Contains(t, page, "Report of run 1.1 · Demo jetter (invented)", "page %d", i+1)
		require.Contains(t, page, "page "+itoa(i+1)+" of "+itoa(len(pages)))
		require.Contains(t, page, "headroom 0.0.0-test")
	}
	for _, want := range []string{"Pump is starving", "Kim acknowledged", "What the record can not tell", "Inlet pressure, kPa"} {
		require.Contains(t, string(out), want)
	}
	if keep := os.Getenv("HEADROOM_KEEP_REPORT"); keep != "" {
		data, err := os.ReadFile(file)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(keep, data, 0o644))
	}
}

// TestBrowsers: what is missing or fails says so, with what to do instead.
func TestBrowsers(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	_, err := FindBrowser("")
	require.ErrorIs(t, err, ErrNoBrowser)
	require.ErrorContains(t, err, "any browser")
	_, err = FindBrowser("no-such-browser")
	require.ErrorContains(t, err, "no-such-browser")

	dir := t.TempDir()
	fake := func(name, script string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte("#!/bin/sh\n"+script), 0o755))
		return path
	}
	file := filepath.Join(dir, "out.pdf")
	require.ErrorContains(t, fixture().WritePDF(ctx, fake("fails", "echo boom; exit 3\n"), file), "boom")
	require.ErrorContains(t, fixture().WritePDF(ctx, fake("idle", "exit 0\n"), file), "wrote none")
	require.NoFileExists(t, file)
}
