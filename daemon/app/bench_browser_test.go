package app_test

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/daemon/access"
	"headroom/daemon/app"
	"headroom/daemon/bench"
	"headroom/daemon/bench/rig"
	"headroom/daemon/config"
	"headroom/dashboard/webtest"
	"headroom/rules/frame"
	"headroom/sensors"
)

// benchDriver is an invented pump on a bench, with a person at its valves.
type benchDriver struct {
	mu      sync.Mutex
	bench   *rig.Bench
	sensors *rig.Sensors
	// ahead is how much more time has passed on the bench than in the program:
	// nobody waits for the person to set a valve.
	ahead time.Duration
}

func (d *benchDriver) Name() string              { return "simulated bench" }
func (d *benchDriver) Channels() []frame.Channel { return rig.Channels() }

func (d *benchDriver) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	t := time.NewTicker(2 * time.Millisecond)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-t.C:
		}
		d.advance(clock(), post)
	}
}

// advance lets the bench's time pass up to now.
func (d *benchDriver) advance(now time.Duration, post func(sensors.Reading)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for d.bench.Now() < now+d.ahead {
		d.bench.Advance()
	}
	v := d.bench.Values()
	var f frame.Frame
	d.sensors.Read(&v, &f)
	for _, c := range rig.Channels() {
		post(sensors.Reading{Channel: c, Sample: f.Samples[c], At: now})
	}
}

// set has the person set the bench for a step; told is the true value where a
// step takes one, in the unit that is returned with it.
func (d *benchDriver) set(step bench.Step) (told float64, unit string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	switch step.Kind {
	case bench.Bucket, bench.Cup:
		return d.bench.Told(step.Kind) * 60e3, " L/min"
	case bench.Reference:
		return d.bench.Told(step.Kind) / 1e3, " kPa"
	}
	began := d.bench.Now()
	d.bench.Begin(step)
	switch step.Kind {
	case bench.NoLoad, bench.Load, bench.Inlet, bench.Own:
		for i := 0; i < 900 && !d.bench.Settled(); i++ {
			d.bench.Advance()
		}
	}
	d.ahead += d.bench.Now() - began
	return 0, ""
}

// benchProgram is the whole program on a simulated bench, twenty times faster
// than life.
func benchProgram(t *testing.T) (s *served, d *benchDriver, configFile string) {
	rng := rand.New(rand.NewPCG(3, 1))
	truth, err := rig.Draw(rig.New, rng)
	require.NoError(t, err)
	truth.NPSHScale = 0.6 // far enough from its limit for any noise, on a slow processor too
	lib := bench.Generic()
	b, err := rig.NewBench(truth, lib.Pumps[0])
	require.NoError(t, err)
	d = &benchDriver{bench: b, sensors: rig.NewSensors(lib.Instruments, rng)}
	s = &served{folder: t.TempDir()}
	s.pin, err = access.NewPIN(access.Folder(s.folder))
	require.NoError(t, err)
	configFile = filepath.Join(t.TempDir(), "my.toml")
	require.NoError(t, os.WriteFile(configFile, []byte("[machine]\nname = \"mine\"\n"), 0o600))
	opt := options(t, d)
	opt.Config = benchConfig()
	opt.ConfigFile = configFile
	opt.Gate, err = access.Open(access.Folder(s.folder), access.Options{})
	require.NoError(t, err)
	// Taken for real sensors, as practice gets no certificate.
	opt.Listen, opt.Speed, opt.Folder = "127.0.0.1:0", 20, s.folder
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
	return s, d, configFile
}

// benchConfig is the default machine with the bench's channels alone.
func benchConfig() *config.Config {
	c := config.Default()
	has := map[frame.Channel]bool{}
	for _, ch := range rig.Channels() {
		has[ch] = true
	}
	for ch := range frame.NumChannels {
		c.Engine.Signals[ch].Fitted = c.Engine.Signals[ch].Fitted && has[ch]
	}
	return c
}

// A whole test through the pages, from the plan to the certificate and the
// baseline, by a person who only reads what the pages say.
func TestBenchInABrowser(t *testing.T) {
	if os.Getenv("HEADROOM_EMULATOR") != "" {
		t.Skip("an emulated processor doesn't keep this bench's pace, and its points come out too wide; what knows a processor is tested in daemon/bench/rig")
	}
	s, d, configFile := benchProgram(t)
	plan, err := bench.NewPlan(bench.Generic().Pumps[0], bench.Choice{LoadShares: []float64{0.5, 0.75, 1}, Inlet: true, Bypass: true, LeakDown: true, ByHand: true, WindowS: 10})
	require.NoError(t, err)
	b := webtest.New(t)
	b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(s.url("/access?next=/bench")), chromedp.WaitVisible(`#pin`))
	givePIN(t, b, s.pin)
	b.Do(t, chromedp.WaitVisible(`a[href="/bench/new"]`))
	look(t, b, "bench_1_list")
	b.Do(t, chromedp.Click(`a.press[href="/bench/new"]`), chromedp.WaitVisible(`#loads`))
	look(t, b, "bench_2_new")
	webtest.Ask[int](t, b, `document.getElementById("loads").value = "50, 75, 100", document.getElementById("window").value = "10", 0`)
	b.Do(t, chromedp.SendKeys(`#who`, "Ada"), chromedp.SendKeys(`#serial`, "17"), chromedp.Click(`form[action="/bench/new"] button.press`), chromedp.WaitVisible(`[data-mark]`))
	b.Wait(t, benchMarkNow+` !== "loading"`)
	leadThrough(t, b, d, plan)
	b.Do(t, chromedp.WaitVisible(`.answer`))
	require.Equal(t, "Pass", webtest.Ask[string](t, b, `document.querySelector(".answer .word span").textContent`), "a new pump: %s",
		webtest.Ask[string](t, b, `document.querySelector("main").innerText`))
	look(t, b, "bench_7_results")
	benchBaseline(t, b, configFile)
	benchPaper(t, b)
	require.Empty(t, b.Problems())
}

// benchMarkNow is which step the page is at: nothing once the results are there,
// and "loading" between two pages.
const benchMarkNow = `(document.readyState !== "complete" ? "loading" :
	document.querySelector("[data-mark]")?.getAttribute("data-mark") ?? (document.querySelector(".answer") ? "" : "loading"))`

// leadThrough does each step as the page says until there is none left.
func leadThrough(t *testing.T, b *webtest.Browser, d *benchDriver, plan bench.Plan) {
	t.Helper()
	for range 60 {
		mark := webtest.Ask[string](t, b, benchMarkNow)
		if mark == "" {
			return
		}
		var n int
		_, err := fmt.Sscanf(webtest.Ask[string](t, b, `document.querySelector('[data-region="bench"] h2').textContent`), "Step %d", &n)
		require.NoError(t, err)
		step := plan.Steps[n-1]
		told, unit := d.set(step)
		switch step.Kind {
		case bench.Bucket, bench.Cup, bench.Reference:
			if step.Kind == bench.Bucket {
				look(t, b, "bench_6_value")
			}
			b.Do(t, chromedp.WaitVisible(`#value`), chromedp.SendKeys(`#value`, strconv.FormatFloat(told, 'g', 6, 64)+unit),
				chromedp.SendKeys(`#off`, strconv.FormatFloat(max(told*0.005, 1e-6), 'g', 3, 64)+unit), chromedp.Click(`form[action$="/enter"] button`))
		case bench.Own:
			b.Do(t, chromedp.WaitVisible(`form[action$="/ready"] button`))
			look(t, b, "bench_5_word")
			b.Do(t, chromedp.Click(`form[action$="/ready"] button`))
		case bench.Rest:
			look(t, b, "bench_3_rest")
		case bench.NoLoad:
			look(t, b, "bench_4_taken")
		}
		// The last step's page leaves for the results by itself.
		moved := func() bool {
			now, err := chromedp.Run(b.Ctx, chromedp.Evaluate[string](benchMarkNow))
			return err == nil && now != mark && now != "loading"
		}
		for end := time.Now().Add(40 * time.Second); !moved(); time.Sleep(50 * time.Millisecond) {
			if time.Now().After(end) {
				require.Fail(t, "a step goes no further", webtest.Ask[string](t, b, `document.body.innerText`))
			}
		}
	}
	require.Fail(t, "the test doesn't end", webtest.Ask[string](t, b, `document.querySelector("main").innerText`))
}

// benchBaseline writes the baseline on the person's word.
func benchBaseline(t *testing.T, b *webtest.Browser, configFile string) {
	b.Do(t, chromedp.Click(`#word`), chromedp.SendKeys(`#who`, "Ada"), chromedp.Click(`form[action$="/baseline"] button`), chromedp.WaitVisible(`.said`))
	b.Wait(t, `document.readyState === "complete" && location.search === "?said=baseline"`)
	c, err := config.Load(configFile)
	require.NoError(t, err)
	require.Equal(t, 4, c.Engine.Plant.Baseline.N)
	require.FileExists(t, configFile+".before-baseline")
}

// benchPaper looks at the certificate, and at the pages over several tests.
func benchPaper(t *testing.T, b *webtest.Browser) {
	paper := webtest.Ask[string](t, b, `document.querySelector('a[href$="/certificate"]').href`)
	b.Do(t, chromedp.Navigate(paper))
	require.NotContains(t, webtest.Ask[string](t, b, `document.body.innerText`), "PARTIAL")
	require.Empty(t, webtest.Ask[string](t, b, `getComputedStyle(document.querySelector("h1")).fontSize === "16px" ? "no style" : ""`), "its style is allowed")
	b.Do(t, chromedp.EmulateViewport(900, 1200))
	b.Shoot(t, "bench_8_certificate")
	pdf, err := chromedp.Run(b.Ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
	require.NoError(t, err)
	require.Greater(t, len(pdf), 10000)
	at := webtest.Ask[string](t, b, `location.origin`)
	for name, path := range map[string]string{"bench_9_library": "/bench/library", "bench_9_trend": "/bench/trend", "bench_9_compare": "/bench/compare", "bench_9_list": "/bench"} {
		b.Do(t, chromedp.Navigate(at+path))
		look(t, b, name)
	}
	resp, err := http.Get(at + "/api/v1/bench")
	require.NoError(t, err)
	body, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	require.NoError(t, resp.Body.Close())
	require.Contains(t, string(body), `"verdict":"pass"`)
}

// Without a script the page renews itself once a person asks for it, and every
// act is a form.
func TestBenchWithoutAScript(t *testing.T) {
	s, d, _ := benchProgram(t)
	b := webtest.New(t)
	_, err := chromedp.Call(b.Ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	require.NoError(t, err)
	b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(s.url("/access?next=/bench/new")), chromedp.WaitVisible(`#pin`))
	givePIN(t, b, s.pin)
	b.Do(t, chromedp.WaitVisible(`#loads`), chromedp.SendKeys(`#who`, "Ada"), chromedp.Click(`form[action="/bench/new"] button.press`), chromedp.WaitVisible(`[data-mark="0.0.0.0.0"]`))
	d.set(bench.Step{Kind: bench.Rest})
	b.Do(t, chromedp.Click(`noscript a[href$="watch=1"]`), chromedp.WaitVisible(`noscript a:not([href*="watch"])`), chromedp.WaitVisible(`[data-mark="1.1.0.0.0"]`))
	b.Do(t, chromedp.Click(`details[data-key="abort"] summary`), chromedp.SendKeys(`#why-abort`, "rain"), chromedp.Click(`form[action$="/abort"] button`), chromedp.WaitVisible(`.answer`))
	all, bad := bench.NewStore(filepath.Join(s.folder, "bench")).List()
	require.Empty(t, bad)
	require.Equal(t, bench.Aborted, all[0].State)
	var what []string
	for _, a := range actsOf(t, s.folder, 1) {
		what = append(what, a.What+" by "+a.Who)
	}
	require.Contains(t, what, "bench_test by Ada")
}
