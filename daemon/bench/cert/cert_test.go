package cert_test

import (
	"bytes"
	"compress/zlib"
	"context"
	"flag"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/daemon/bench"
	"headroom/daemon/bench/cert"
	"headroom/daemon/bench/rig"
	"headroom/deploy/testneed"
	"headroom/rules/units"
)

// update writes the golden pages anew: go test ./daemon/bench/cert -update.
var update = flag.Bool("update", false, "rewrite the golden certificates")

// pictures is a folder for pictures of the printed pages, to be looked at.
var pictures = os.Getenv("HEADROOM_SCREENSHOTS")

// tested runs one test on a simulated pump that was drawn from a seed.
func tested(t *testing.T, c rig.Condition, seed uint64, change func(*bench.Setup)) *bench.Record {
	lib := bench.Generic()
	p := lib.Pumps[0]
	p.Serial = "SIM-1"
	plan, err := bench.NewPlan(p, bench.DefaultChoice())
	require.NoError(t, err)
	setup := bench.Setup{
		Pump: p, Instruments: lib.Instruments, Limits: lib.Limits(p), Plan: plan, Who: "A. Tester (invented)", Where: "an invented shop",
		Source: bench.OwnSensors, BoreM: 0.019, Began: time.Date(2026, 5, 4, 8, 0, 0, 0, time.UTC),
	}
	if change != nil {
		change(&setup)
	}
	rng := rand.New(rand.NewPCG(seed, 1))
	truth, err := rig.Draw(c, rng)
	require.NoError(t, err)
	trace, err := rig.Record(truth, p, setup.Plan)
	require.NoError(t, err)
	test, err := trace.Run(setup, rig.NewSensors(lib.Instruments, rng), rng)
	require.NoError(t, err)
	return test.Record
}

func render(t *testing.T, r *bench.Record, before *bench.Record) []byte {
	var b bytes.Buffer
	require.NoError(t, cert.Write(&b, r, cert.Options{Units: units.SI, Version: "test", Before: before}))
	return b.Bytes()
}

// pages are the certificates that are kept: a pump that passed, with the test
// before its rebuild; one that failed; a partial test; and practice. All come
// from the simulator; what they say of their source is the tests' own.
func pages(t *testing.T) map[string][]byte {
	worn := tested(t, rig.WornValves, 1, func(s *bench.Setup) { s.Began = s.Began.Add(-7 * 24 * time.Hour) })
	partial := tested(t, rig.New, 3, func(s *bench.Setup) { s.HandsOff = true })
	practice := tested(t, rig.New, 3, func(s *bench.Setup) { s.Source = "the simulator, an invented pump: new" })
	return map[string][]byte{
		"practice": render(t, practice, nil),
		"pass":     render(t, tested(t, rig.New, 3, nil), worn), "fail": render(t, worn, nil), "partial": render(t, partial, nil),
	}
}

// last digits of sines and roots differ between processors; the record's hash
// does too then.
var hash = regexp.MustCompile(`[0-9a-f]{64}`)

func TestGolden(t *testing.T) {
	for name, got := range pages(t) {
		file := filepath.Join("testdata", name+".html")
		got = hash.ReplaceAll(got, []byte("HASH"))
		if *update {
			require.NoError(t, os.MkdirAll("testdata", 0o755))
			require.NoError(t, os.WriteFile(file, got, 0o644))
			continue
		}
		want, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Equal(t, string(want), string(got), "%s: run go test ./daemon/bench/cert -update and look at it", name)
	}
}

// TestSaysWhatItMust: what no certificate may lack.
func TestSaysWhatItMust(t *testing.T) {
	all := pages(t)
	for name, text := range all {
		for _, must := range []string{"expanded uncertainty", "Factor k", "SHA-256", "Not tested", "Calibrated", "2026-03-02", "JCGM 106", "no certified test", "<svg"} {
			require.Contains(t, string(text), must, name)
		}
		require.NotContains(t, string(text), "NaN", name)
		require.NotContains(t, string(text), "ZgotmplZ", name)
	}
	require.Contains(t, string(all["pass"]), "Before and after")
	require.NotContains(t, string(all["pass"]), "PARTIAL TEST")
	require.Contains(t, string(all["partial"]), "PARTIAL TEST")
	for name, text := range all {
		if name != "practice" {
			require.Contains(t, string(text), "Accepted by, date, signature", name)
			require.NotContains(t, string(text), "PRACTICE", name)
		}
	}
}

// TestPracticeIsNoCertificate: nothing of it can be taken for proof of a pump.
func TestPracticeIsNoCertificate(t *testing.T) {
	text := string(pages(t)["practice"])
	require.Contains(t, text, `<p class="verdict"><b>practice, no certificate</b>`)
	require.Contains(t, text, "PRACTICE – no certificate. The readings did not come from a pump")
	require.NotContains(t, text, "signature<", "there is nothing to sign")
	require.NotContains(t, text, "<b>pass</b>")
	require.Contains(t, text, "<title>PRACTICE")
}

// stampFont is the stamp's size where a PDF sets a font.
var stampFont = regexp.MustCompile(`/F\d+ 117\.3\d* Tf`)

// stamps counts the sheets of a printed certificate and those that carry the
// stamp, which alone is set in letters of 88 pt, 117.33 pixels.
func stamps(pdf []byte) (sheets, stamped int) {
	for _, part := range bytes.Split(pdf, []byte("stream\n"))[1:] {
		r, err := zlib.NewReader(bytes.NewReader(part))
		if err != nil {
			continue
		}
		text, _ := io.ReadAll(r) // what follows the stream isn't part of it
		if !bytes.Contains(text, []byte(" Tf")) {
			continue
		}
		sheets++
		if stampFont.Match(text) {
			stamped++
		}
	}
	return sheets, stamped
}

// TestPrinted prints the pages in a browser: the partial one says so on each
// page of paper.
func TestPrinted(t *testing.T) {
	opts := []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(testneed.Program(t, "chromium", "chromium")), chromedp.NoFirstRun, chromedp.UserDataDir(t.TempDir()),
		chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.Flag("disable-background-networking", true),
	}
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	ctx, cancel = context.WithTimeout(ctx, 90*time.Second)
	defer cancel()
	for name, body := range pages(t) {
		if pictures != "" {
			require.NoError(t, os.WriteFile(filepath.Join(pictures, "certificate-"+name+".html"), body, 0o600))
		}
		file := filepath.Join(t.TempDir(), name+".html")
		require.NoError(t, os.WriteFile(file, body, 0o600))
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("file://"+file)))
		pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
		require.NoError(t, err)
		sheets, stamped := stamps(pdf)
		require.Greater(t, sheets, 2, name)
		if name == "partial" || name == "practice" {
			require.Equal(t, sheets, stamped, "%s: each sheet says so", name)
		} else {
			require.Zero(t, stamped, name)
		}
		if pictures != "" {
			require.NoError(t, os.WriteFile(filepath.Join(pictures, "certificate-"+name+".pdf"), pdf, 0o600))
		}
	}
}
