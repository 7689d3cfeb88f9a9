package dashboard

import (
	"fmt"
	"net/http/httptest"
	"os"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/heapprofiler"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/dashboard/webtest"
	"headroom/rules/frame"
)

// The budget at a processor that is 6 times slower, which stands for a phone
// of five years: ms of script for an update, and share of the main thread.
// Source: the project's own requirement. Other work on the test's machine
// counts as the page's, so the test itself fails at one and a half times that only.
//
// Six times slower than what was developed on: yardstickMs is what a piece of
// work of the same kind took there (104 to 114 in thread time). The test's
// machine is measured by it before and after each part, so that a slow core
// fails nothing and a quick one hides nothing.
const (
	slower       = 6
	scriptBudget = 12.0
	threadBudget = 0.10
	patience     = 1.5
	yardstickMs  = 105.0
)

// work is the yardstick: it parses, writes and measures what a page is made of,
// without the page's own scripts.
const work = `(() => { const host = document.createElement("div"); host.style.cssText = "position:absolute;visibility:hidden"; document.body.append(host);
	let sum = 0;
	for (let i = 0; i < 60; i++) {
		const rows = JSON.parse(JSON.stringify(Array.from({length: 60}, (_, k) => ({name: "row " + k, value: Math.sqrt(k * i + 1).toFixed(3)}))));
		host.innerHTML = rows.map((r) => "<p data-key='" + r.name + "'><b>" + r.value + "</b> <span>" + r.name + "</span></p>").join("");
		for (const e of host.querySelectorAll("b")) sum += Number(e.textContent) + e.getAttributeNames().length;
		sum += host.offsetHeight;
	}
	host.remove();
	return sum > 0; })()`

// threadOf is the ms of work that the page's thread does for the yardstick.
func threadOf(t *testing.T, b *webtest.Browser) float64 {
	t.Helper()
	before := metrics(t, b)["TaskDuration"]
	require.True(t, webtest.Ask[bool](t, b, work))
	return 1e3 * (metrics(t, b)["TaskDuration"] - before)
}

func metrics(t *testing.T, b *webtest.Browser) map[string]float64 {
	t.Helper()
	res, err := chromedp.Call(b.Ctx, performance.GetMetrics, cdp.Empty{})
	require.NoError(t, err)
	out := map[string]float64{}
	for _, m := range res.Metrics {
		out[m.Name] = m.Value
	}
	return out
}

// TestBrowserUpdatesAreCheap counts the time that the page's thread itself
// works, so that others on the test's machine don't count, and takes it six
// times.
func TestBrowserUpdatesAreCheap(t *testing.T) {
	m := demoMachine(t)
	b := webtest.New(t)
	_, err := chromedp.Call(b.Ctx, performance.Enable, performance.EnableParams{TimeDomain: performance.EnableTimeDomainThreadTicks})
	require.NoError(t, err)
	url := serveLive(t, m)
	for _, sc := range []struct {
		name string
		set  func(*liveMachine)
		word string
	}{{"quiet", mend, "All limits have room"}, {"alarm", starve, "Act now"}} {
		b.Open(t, 360, 640, url)
		sc.set(m)
		b.Wait(t, `document.querySelector(".answer .word").textContent.includes("`+sc.word+`")`)
		webtest.Ask[int](t, b, `window.ticks = 0; new MutationObserver(() => window.ticks++).observe(document.body, {attributes: true, attributeFilter: ["data-seq"]}); 0`)
		threadOf(t, b) // once for the engine to get warm
		yard := threadOf(t, b)
		webtest.Ask[int](t, b, `window.ticks = 0; 0`)
		before, began := metrics(t, b), time.Now()
		time.Sleep(8 * time.Second)
		b.Wait(t, `window.ticks > 10`)
		after, wall := metrics(t, b), time.Since(began).Seconds()
		ticks := webtest.Ask[float64](t, b, `window.ticks`)
		yard = (yard + threadOf(t, b)) / 2
		slower := slower * yardstickMs / yard
		t.Logf("yardstick: %.0f ms, %.0f where it was developed", yard, yardstickMs)
		script := slower * 1e3 * (after["ScriptDuration"] - before["ScriptDuration"]) / ticks
		thread := slower * (after["TaskDuration"] - before["TaskDuration"]) / wall
		layout := slower * (after["LayoutDuration"] + after["RecalcStyleDuration"] - before["LayoutDuration"] - before["RecalcStyleDuration"]) / wall
		t.Logf("%s, %.1fx slower: script %.1f ms an update (budget %.0f), main thread %.1f %% (budget %.0f %%), of it layout and style %.1f %%, %.1f updates a second",
			sc.name, slower, script, scriptBudget, 100*thread, 100*threadBudget, 100*layout, ticks/wall)
		require.Less(t, script, patience*scriptBudget)
		require.Less(t, thread, patience*threadBudget)
	}
}

// soakEnv is how long the soak lasts by the page's own clock, a time such as
// 12h; paceEnv how much faster than the wall that clock runs, 1 for real time.
const (
	soakEnv, paceEnv    = "HEADROOM_SOAK", "HEADROOM_SOAK_PACE"
	shortSoak, soakPace = 12 * time.Minute, 48
)

// hasten makes every clock and timer of the pages to come run faster.
const hasten = `(() => { const pace = %d, now = performance.now.bind(performance), began = Date.now(), every = setInterval.bind(window), once = setTimeout.bind(window);
	performance.now = () => now() * pace;
	Date.now = () => began + now() * pace;
	window.opened = 0;
	window.EventSource = class extends EventSource { constructor(...a) { super(...a); window.opened++; } };
	window.setInterval = (f, ms, ...a) => every(f, ms / pace, ...a);
	window.setTimeout = (f, ms, ...a) => once(f, (ms || 0) / pace, ...a); })()`

// The page takes the updates of a shift, with alarms that come and go every
// minute, and must not grow. Time is packed: the page's clocks and the machine's
// run 48 times as fast, so that everything that waits, ages and is forgotten by
// the minute does so as often as in the real time that they show.
func TestBrowserSoak(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	long, pace := shortSoak, soakPace
	if text := os.Getenv(soakEnv); text != "" {
		var err error
		long, err = time.ParseDuration(text)
		require.NoError(t, err)
	}
	if text := os.Getenv(paceEnv); text != "" {
		var err error
		pace, err = strconv.Atoi(text)
		require.NoError(t, err)
	}
	opt := m.options()
	began := time.Now()
	clock := func() time.Time { return began.Add(time.Since(began) * time.Duration(pace)) }
	opt.Now, opt.StreamEvery = clock, defaultStreamEvery/time.Duration(pace)
	srv := httptest.NewServer(New(opt))
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	b := webtest.New(t)
	_, err := chromedp.Call(b.Ctx, page.Enable, page.EnableParams{})
	require.NoError(t, err)
	_, err = chromedp.Call(b.Ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: fmt.Sprintf(hasten, pace)})
	require.NoError(t, err)
	every := liveTick / time.Duration(pace)
	var calm atomic.Bool
	storm(t, m, every, clock, &calm)
	b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(srv.URL))
	require.Eventually(t, func() bool { return webtest.Ask[bool](t, b, webtest.IsLive) }, 20*time.Second, time.Millisecond)
	_, err = chromedp.Call(b.Ctx, performance.Enable, performance.EnableParams{})
	require.NoError(t, err)
	webtest.Ask[int](t, b, `window.ticks = 0; new MutationObserver(() => window.ticks++).observe(document.body, {attributes: true, attributeFilter: ["data-seq"]}); 0`)
	soak := func(d time.Duration) { time.Sleep(d / time.Duration(pace)) }
	rest := func() (heap, nodes, listeners float64, goroutines int) {
		calm.Store(true)
		defer calm.Store(false)
		time.Sleep(max(300*every, time.Second))
		// A page whose stream is just being opened anew has fewer listeners; with
		// its clock so fast that happens when the test's machine holds its breath.
		var v map[string]float64
		require.Eventually(t, func() bool {
			opened := webtest.Ask[float64](t, b, `window.opened`)
			for range 3 {
				_, err := chromedp.Call(b.Ctx, heapprofiler.CollectGarbage, cdp.Empty{})
				require.NoError(t, err)
			}
			v = metrics(t, b)
			return webtest.Ask[bool](t, b, webtest.IsLive) && webtest.Ask[float64](t, b, `window.opened`) == opened
		}, time.Minute, 200*time.Millisecond)
		return v["JSHeapUsedSize"], v["Nodes"], v["JSEventListeners"], runtime.NumGoroutine()
	}
	// The first part is as long as what the page remembers at most.
	soak(max(long/5, min(long/2, longWindow)))
	heap0, nodes0, listeners0, go0 := rest()
	ticks0, hours0 := webtest.Ask[float64](t, b, `window.ticks`), webtest.Ask[float64](t, b, `performance.now() / 3.6e6`)
	soak(long - max(long/5, min(long/2, longWindow)))
	// A busy test machine gives fewer updates than the page would get in this
	// time, and the page shall have had enough of them.
	require.Eventually(t, func() bool {
		return webtest.Ask[float64](t, b, `window.ticks`) > long.Seconds()/4
	}, 2*time.Minute, 100*time.Millisecond)
	heap1, nodes1, listeners1, go1 := rest()
	ticks, hours := webtest.Ask[float64](t, b, `window.ticks`), webtest.Ask[float64](t, b, `performance.now() / 3.6e6`)
	t.Logf("after %.2f and %.2f h of the page's clock, %.0f and %.0f updates: heap %.0f and %.0f kB, nodes %.0f and %.0f, listeners %.0f and %.0f, goroutines %d and %d",
		hours0, hours, ticks0, ticks, heap0/1e3, heap1/1e3, nodes0, nodes1, listeners0, listeners1, go0, go1)
	require.GreaterOrEqual(t, hours, long.Hours())
	require.Less(t, heap1, heap0*1.15+100e3, "the heap grows")
	require.Less(t, nodes1, nodes0*1.1+50, "elements stay behind")
	require.LessOrEqual(t, listeners1, listeners0+2)
	require.LessOrEqual(t, go1, go0+5)
	require.Empty(t, b.Problems())
}

// storm ticks until the test ends: half a minute well, half a minute starving,
// and well all the time while it is calm.
func storm(t *testing.T, m *liveMachine, every time.Duration, clock func() time.Time, calm *atomic.Bool) {
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		tick := time.NewTicker(every)
		defer tick.Stop()
		for n := 0; ; n++ {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
			switch {
			case calm.Load() || n%600 == 0:
				mend(m)
			case n%600 == 300:
				starve(m)
			}
			m.set(frame.MotorCurrent, 14+float64(n%7)/10)
			m.tick(clock())
		}
	})
	t.Cleanup(func() { close(stop); wg.Wait() })
}
