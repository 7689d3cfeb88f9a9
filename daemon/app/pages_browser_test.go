package app_test

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/daemon/access"
	"headroom/daemon/app"
	"headroom/daemon/hardware"
	"headroom/daemon/store"
	"headroom/dashboard/webtest"
	"headroom/deploy/testneed"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/calibrate"
	"headroom/sensors/scenario"
	"headroom/sensors/sim"
)

// standing is an invented machine that stands, with its tap open.
func standing(t *testing.T) sensors.Driver {
	text := "title = \"Stands\"\ninvented = true\nseed = 7\nend = \"59:00\"\ntimeline = [\"0:01 tap on\"]\n"
	s, err := scenario.Load(fstest.MapFS{"stands.toml": {Data: []byte(text)}}, "stands.toml")
	require.NoError(t, err)
	d, err := sim.New(sim.Options{Scenario: s, Loop: true})
	require.NoError(t, err)
	return d
}

// served is the whole program with a PIN and calibrations, and its folder.
type served struct {
	*app.App
	folder, pin string
	store       *calibrate.Store
}

func serve(t *testing.T, d sensors.Driver, speed float64) *served {
	s := &served{folder: t.TempDir()}
	var err error
	s.pin, err = access.NewPIN(access.Folder(s.folder))
	require.NoError(t, err)
	s.store, err = calibrate.NewStore(t.TempDir())
	require.NoError(t, err)
	cal := hardware.NewCalibrations(s.store, nil)
	opt := options(t, cal.Wrap(d))
	opt.Gate, err = access.Open(access.Folder(s.folder), access.Options{})
	require.NoError(t, err)
	opt.Listen, opt.Speed, opt.Folder, opt.Source = "127.0.0.1:0", speed, s.folder, "Simulated: an invented machine"
	opt.Calibrator = app.NewCalibrator(cal, s.store, d.Channels(), "The readings are simulated: this is a practice.", nil)
	s.App, err = app.New(opt)
	require.NoError(t, err)
	run, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(run) }()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-done)
		require.NoError(t, s.Close())
	})
	return s
}

func (s *served) url(path string) string { return strings.TrimSuffix(s.URL(), "/") + path }

// givePIN gives the PIN on the page that asks for it.
func givePIN(t *testing.T, b *webtest.Browser, pin string) {
	b.Do(t, chromedp.SendKeys(`#pin`, pin), chromedp.Click(`.pin button`))
}

// look checks what holds for every page, at the three widths and the narrowest,
// and what the axe rules say at the three.
func look(t *testing.T, b *webtest.Browser, name string) {
	t.Helper()
	for _, w := range []int64{320, 360, 768, 1280} {
		b.Do(t, chromedp.EmulateViewport(w, 800))
		b.NoSideScroll(t)
		b.Targets(t)
		b.Letters(t)
		if w != 320 {
			b.Axe(t)
		}
		if w == 360 || w == 1280 {
			b.Shoot(t, fmt.Sprintf("%s_%d", name, w))
		}
	}
	b.Do(t, chromedp.EmulateViewport(360, 640))
}

func TestCalibrationInABrowser(t *testing.T) {
	for _, script := range []bool{true, false} {
		t.Run(fmt.Sprintf("script %v", script), func(t *testing.T) { calibrateInABrowser(t, script) })
	}
}

func calibrateInABrowser(t *testing.T, script bool) {
	s := serve(t, standing(t), 1)
	b := webtest.New(t)
	_, err := chromedp.Call(b.Ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !script})
	require.NoError(t, err)
	status := func() frame.Status { return s.Store().Latest().Verdicts.Samples[ch].Status }
	value := func() float64 { return s.Store().Latest().Verdicts.Samples[ch].Value }
	require.Eventually(t, func() bool { return s.Store().Latest() != nil && status() == frame.Good }, 5*time.Second, 50*time.Millisecond)

	b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(s.url("/setup")), chromedp.Click(`a[href="/calibration/inlet_pressure"]`))
	// A change needs the PIN; the page is left for it and come back to.
	b.Do(t, chromedp.Click(`.askpin a`), chromedp.WaitVisible(`#pin`))
	givePIN(t, b, s.pin)
	b.Do(t, chromedp.Click(`form[action$="/begin"] button`), chromedp.WaitVisible(`button[value="two-point"]`))
	require.Eventually(t, func() bool { return status() == frame.Checking }, 3*time.Second, 20*time.Millisecond, "the rules know")
	if script {
		look(t, b, "calibrate_1_method")
	}
	b.Do(t, chromedp.Click(`button[value="zero"]`), chromedp.WaitVisible(`#reference`))
	// Typing goes on while the reading is renewed beside it.
	b.Do(t, chromedp.SendKeys(`#reference`, "250 kPa"))
	if script {
		b.Wait(t, `document.querySelector("[data-region=probe]").textContent.includes("steady: a point may be taken")`)
		require.Equal(t, "250 kPa", webtest.Ask[string](t, b, `document.getElementById("reference").value`))
		look(t, b, "calibrate_2_take")
	} else {
		// Nothing renews a page without a script; the program tells by another
		// one when the readings have stood for long enough.
		require.Eventually(t, func() bool {
			resp, err := http.Get(s.url("/calibration/inlet_pressure"))
			if err != nil {
				return false
			}
			defer resp.Body.Close()
			page, err := io.ReadAll(resp.Body)
			return err == nil && strings.Contains(string(page), "steady: a point may be taken")
		}, time.Minute, 200*time.Millisecond)
	}
	before := value()
	b.Do(t, chromedp.Click(`form[action$="/take"] button`), chromedp.WaitVisible(`#instrument`))
	if script {
		look(t, b, "calibrate_3_review")
	}
	b.Do(t, chromedp.SendKeys(`#who`, "Ada"), chromedp.SendKeys(`#instrument`, "invented gauge"), chromedp.Click(`form[action$="/confirm"] button`), chromedp.WaitVisible(`.said`))
	require.Eventually(t, func() bool { return status() == frame.Good }, 3*time.Second, 20*time.Millisecond, "watched again")
	require.InDelta(t, 250e3, value(), 3e3, "it read %.0f before", before)
	latest, err := s.store.Latest(ch)
	require.NoError(t, err)
	require.Equal(t, "Ada", latest.Who)
	if script {
		look(t, b, "calibrate_4_saved")
		b.Axe(t)
	}
	b.Do(t, chromedp.Click(`details.apart summary`), chromedp.SendKeys(`form[action$="/undo"] #who`, "Bo"), chromedp.Click(`form[action$="/undo"] button`), chromedp.WaitVisible(`.said`))
	require.Eventually(t, func() bool { return value() < before+3e3 && value() > before-3e3 }, 3*time.Second, 20*time.Millisecond, "undone")
	require.Empty(t, b.Problems())
	acts := actsOf(t, s.folder, 1)
	var what []string
	for _, a := range acts {
		what = append(what, a.What+" by "+a.Who)
	}
	require.Contains(t, what, "calibration by Ada")
	require.Contains(t, what, "calibration by Bo")
}

// Start, fault, alarm seen and heard, acknowledged by name, cleared, and all of
// it in the record.
func TestChainInABrowser(t *testing.T) {
	s := serve(t, demoDriver(t), 4)
	b := webtest.New(t)
	b.Open(t, 360, 640, s.URL())
	b.Touch(t)
	webtest.Ask[int](t, b, `window.beeps = []; const start = OscillatorNode.prototype.start; OscillatorNode.prototype.start = function (t) { window.beeps.push(this.frequency.value); return start.call(this, t); }; 0`)
	b.Tap(t, "#sound-switch")
	b.Wait(t, `document.getElementById("sound-says").textContent.startsWith("Sound on in this browser")`)
	low := engine.ActAlarm(engine.InletLow)
	phase := func() alarm.Phase { return s.Store().Latest().Verdicts.Alarms[low].Phase }
	require.Eventually(t, func() bool { return phase() == alarm.Unacknowledged }, 60*time.Second, 20*time.Millisecond, "the second tap starves the pump")
	b.Wait(t, `document.querySelector(".answer .word").textContent.includes("Act now") && window.beeps.filter(f => f === 988).length >= 3`)
	b.Shoot(t, "chain_1_alarm")
	// The tap is refused without the PIN and leads to where it is given, which says
	// what waits; with the PIN and a name it is done.
	webtest.Ask[int](t, b, `setTimeout(() => document.querySelector(".thumb button")?.click(), 600); 0`)
	b.Do(t, chromedp.WaitVisible(`#pin`))
	require.Contains(t, []alarm.Phase{alarm.Unacknowledged, alarm.Returned}, phase(), "nothing was done")
	require.Contains(t, webtest.Ask[string](t, b, `document.querySelector("main").textContent`), "The PIN acknowledges too: Pump is starving.")
	b.Do(t, chromedp.SendKeys(`#who`, "Ada"))
	givePIN(t, b, s.pin)
	require.Eventually(t, func() bool { return phase() == alarm.Acknowledged || phase() == alarm.Normal }, 10*time.Second, 20*time.Millisecond)
	b.Do(t, chromedp.WaitVisible(`#link`))
	b.Wait(t, webtest.IsLive)
	b.Shoot(t, "chain_2_acknowledged")
	require.Eventually(t, func() bool { return phase() == alarm.Normal }, 60*time.Second, 20*time.Millisecond, "it clears when the tap is shut")
	b.Wait(t, `document.querySelector(".events").textContent.includes("acknowledged")`)
	b.Shoot(t, "chain_3_cleared")
	require.Empty(t, b.Problems())
	found := false
	for _, a := range actsOf(t, s.folder, 1) {
		found = found || a.Who == "Ada" && a.Alarm == low.String()
	}
	require.True(t, found, "the record knows who acknowledged")
	reviewAndPrint(t, s, b)
}

// reviewAndPrint is the morning after: the run is found, told, looked at more
// closely, noted upon and printed.
func reviewAndPrint(t *testing.T, s *served, b *webtest.Browser) {
	b.Do(t, chromedp.Navigate(s.url("/runs")), chromedp.WaitVisible(`ul.runs a`))
	b.Shoot(t, "chain_4_runs")
	first := webtest.Ask[string](t, b, `document.querySelector("ul.runs a").pathname`)
	b.Do(t, chromedp.Navigate(s.url(first)), chromedp.WaitVisible(`ol.account`))
	told := webtest.Ask[string](t, b, `document.querySelector("ol.account").textContent`)
	require.Contains(t, told, "Ada acknowledged “Pump is starving”")
	look(t, b, "chain_5_run")
	show := webtest.Ask[string](t, b, `[...document.querySelectorAll("ol.account li")].find((li) => li.textContent.includes("Ada acknowledged")).querySelector("a").href`)
	b.Do(t, chromedp.Navigate(show), chromedp.WaitVisible(`ol.account .chosen`))
	b.Do(t, chromedp.SendKeys(`#note`, "the hose lay under a wheel"), chromedp.Click(`form[action$="/note"] button`))
	b.GoTo(t, s.url(first))
	b.Wait(t, `document.querySelector("ul.notes").textContent.includes("under a wheel")`)
	b.Do(t, chromedp.Navigate(s.url(first+"/report")))
	b.Wait(t, `document.body.textContent.includes("Pump is starving")`)
	require.Empty(t, b.Problems())
	pdf, err := chromedp.Run(b.Ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "report.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	text, err := exec.Command(testneed.Program(t, "poppler-utils", "pdftotext"), file, "-").Output()
	require.NoError(t, err)
	require.Contains(t, string(text), "Pump is starving")
	require.Contains(t, string(text), "no certified safety device")
}

// Every page of the whole program, as a new user meets it, clean by axe.
func TestPagesOfTheWholeProgram(t *testing.T) {
	s := serve(t, standing(t), 1)
	b := webtest.New(t)
	require.Eventually(t, func() bool { snap := s.Store().Latest(); return snap != nil && snap.Seq > 50 }, 15*time.Second, 50*time.Millisecond)
	for name, path := range map[string]string{
		"start": "/start", "list": "/start/list", "supply": "/start/supply", "verdict": "/start/supply?static=62+psi&flowing=4.1+gpm+%40+48+psi&end=1",
		"line": "/start/advice/line?line=4+in&hose-length=150+ft", "question": "/start/advice/supply?in=US&static=60&flowing-flow=4&flowing-pressure=48", "setup": "/setup", "outputs": "/setup/outputs", "calibration": "/calibration/flow",
		"handbook": "/handbook", "physics": "/handbook/physics", "wiring": "/handbook/wiring", "cautions": "/cautions", "limits": "/limits", "access": "/access",
		"runs": "/runs", "compare": "/runs/compare",
	} {
		t.Run(name, func(t *testing.T) {
			resp, err := http.Get(s.url(path))
			require.NoError(t, err)
			require.NoError(t, resp.Body.Close())
			require.Equal(t, http.StatusOK, resp.StatusCode)
			b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(s.url(path)))
			require.Empty(t, webtest.Ask[[]string](t, b, `[...document.images].filter(i => (i.loading = "eager", i.complete && !i.naturalWidth)).map(i => i.src)`), "pictures that can't be shown")
			require.Zero(t, webtest.Ask[int](t, b, `document.querySelectorAll(".refused").length`))
			look(t, b, "whole_"+name)
		})
	}
	require.Empty(t, b.Problems())
}

// The record says by which calibrations the channels were read, at the start
// and again when one is made.
func TestTheRecordKnowsTheCalibrations(t *testing.T) {
	s := serve(t, standing(t), 1)
	inForce := func() (texts []string) {
		if rec := s.Record(); rec != nil {
			acts, err := rec.Acts(t.Context(), store.RunID{Boot: rec.Boot()})
			require.NoError(t, err)
			for _, a := range acts {
				if a.What == store.CalibrationsInForce {
					texts = append(texts, a.Text)
				}
			}
		}
		return texts
	}
	require.Eventually(t, func() bool { return len(inForce()) == 1 }, 15*time.Second, 20*time.Millisecond)
	one := calibrate.Calibration{Channel: frame.Flow.String(), Method: calibrate.None, Date: time.Now(), Who: "Ada", ValidDays: 90}
	require.NoError(t, s.store.Append(one))
	require.NoError(t, s.Note(t.Context(), "calibration", "Flow: only checked", "Ada"))
	require.Eventually(t, func() bool { return len(inForce()) == 2 }, 15*time.Second, 20*time.Millisecond)
	texts := inForce()
	require.NotEqual(t, texts[0], texts[1])
	for _, text := range texts {
		words := strings.SplitN(text, " ", 3)
		require.Equal(t, fmt.Sprintf("%x", sha256.Sum256([]byte(words[2]))), words[1])
	}
	require.Contains(t, texts[1], "Ada")
}
