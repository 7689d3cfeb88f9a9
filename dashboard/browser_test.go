package dashboard

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

// screenshotsEnv names a folder that keeps the screenshots; without it they go
// where the test's other files go.
const screenshotsEnv = "HEADROOM_SCREENSHOTS"

// browser is one tab with what it asked for and complained of.
type browser struct {
	ctx      context.Context
	mu       sync.Mutex
	asked    []string
	problems []string
}

func newBrowser(t *testing.T) *browser {
	t.Helper()
	path := testneed.Program(t, "chromium", "chromium")
	opts := []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(path), chromedp.NoFirstRun, chromedp.UserDataDir(t.TempDir()),
		chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("host-resolver-rules", "MAP trailer.local 127.0.0.1"),
		chromedp.Flag("hide-scrollbars", true), chromedp.Flag("force-color-profile", "srgb"),
	}
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	b := &browser{ctx: ctx}
	require.NoError(t, chromedp.Listen(ctx, b.hear))
	_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	return b
}

func (b *browser) hear(ev any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := ev.(type) {
	case *network.EventRequestWillBeSent:
		b.asked = append(b.asked, e.Request.URL)
	case *runtime.EventExceptionThrown:
		b.problems = append(b.problems, e.ExceptionDetails.Text)
	}
}

func (b *browser) do(t *testing.T, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 20*time.Second)
	defer cancel()
	require.NoError(t, chromedp.Do(ctx, steps...))
}

// wait waits until a JavaScript expression holds.
func (b *browser) wait(t *testing.T, expr string) {
	t.Helper()
	b.do(t, chromedp.Poll[chromedp.Void](expr, chromedp.WithPollingInterval(20*time.Millisecond), chromedp.WithPollingTimeout(15*time.Second)))
}

const isLive = `document.getElementById("link").textContent === "Live"`

// ask returns a JavaScript expression's value.
func ask[T any](t *testing.T, b *browser, expr string) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 20*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expr, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	return v
}

func (b *browser) open(t *testing.T, w, h int64, url string) {
	t.Helper()
	b.do(t, chromedp.EmulateViewport(w, h), chromedp.Navigate(url))
	b.wait(t, isLive)
}

// shoot keeps a picture of what is on the screen, and of the whole page.
func (b *browser) shoot(t *testing.T, name string) {
	t.Helper()
	dir := os.Getenv(screenshotsEnv)
	if dir == "" {
		dir = t.TempDir()
	}
	first, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	require.NoError(t, err)
	whole, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+".png"), first, 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+"_whole.png"), whole, 0o644))
}

var screens = []struct {
	name string
	w, h int64
}{{"phone", 360, 640}, {"laptop", 1280, 800}, {"small", 320, 568}}

func TestBrowserLayout(t *testing.T) {
	b := newBrowser(t)
	for name, sc := range scenes() {
		srv := httptest.NewServer(newServer(testOptions(), sc.feed()).handler())
		t.Cleanup(srv.Close)
		t.Cleanup(srv.CloseClientConnections)
		for _, scr := range screens {
			t.Run(name+" "+scr.name, func(t *testing.T) {
				b.open(t, scr.w, scr.h, srv.URL)
				b.noSideScroll(t)
				b.targets(t)
				b.letters(t)
				b.answerInView(t, scr.h)
				b.shoot(t, name+"_"+scr.name)
			})
		}
	}
	b.plainPages(t)
	for _, u := range b.asked {
		p, err := url.Parse(u)
		require.NoError(t, err)
		require.Equal(t, "127.0.0.1", p.Hostname(), "the page asked for something elsewhere")
	}
	require.Empty(t, b.problems)
}

// plainPages checks the pages without a stream, and the page in US units.
func (b *browser) plainPages(t *testing.T) {
	t.Helper()
	srv := httptest.NewServer(newServer(testOptions(), starving().feed()).handler())
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	for name, path := range map[string]string{"handbook": "/handbook", "alarm_page": "/alarms/inlet_low.act", "refused": "/alarms/nothing", "cautions": "/cautions", "limits": "/limits", "us": "/?units=US&window=10"} {
		for _, scr := range screens {
			b.do(t, chromedp.EmulateViewport(scr.w, scr.h), chromedp.Navigate(srv.URL+path))
			b.noSideScroll(t)
			b.targets(t)
			b.letters(t)
			b.shoot(t, name+"_"+scr.name)
		}
	}
}

func (b *browser) noSideScroll(t *testing.T) {
	t.Helper()
	require.False(t, ask[bool](t, b, `document.documentElement.scrollWidth > window.innerWidth`), "the page scrolls sideways")
}

// targets checks the least size of what can be tapped, in CSS pixels.
func (b *browser) targets(t *testing.T) {
	t.Helper()
	small := ask[[]string](t, b, `[...document.querySelectorAll("a,button,input:not([type=hidden]),summary,select")]
		.filter(e => e.checkVisibility()).map(e => [e, e.getBoundingClientRect()]).filter(([e, r]) => r.width < 48 || r.height < 48)
		.map(([e, r]) => e.outerHTML.slice(0, 80) + " " + r.width + "x" + r.height)`)
	require.Empty(t, small, "targets below 48 by 48")
	low := ask[[]string](t, b, `[...document.querySelectorAll(".press")].filter(e => e.checkVisibility()).map(e => [e, e.getBoundingClientRect()])
		.filter(([e, r]) => r.height < 64 || innerWidth < 400 && r.width < innerWidth * 0.75).map(([e, r]) => e.textContent + " " + r.width + "x" + r.height)`)
	require.Empty(t, low, "what a wet thumb must hit is lower than 64 or not the width of the phone")
	near := ask[[]string](t, b, `(() => { const all = [...document.querySelectorAll("a,button,input:not([type=hidden]),summary")].filter(e => e.checkVisibility() && !e.closest(".thumb,.told")).map(e => [e, e.getBoundingClientRect()]);
		return all.flatMap(([e, r], i) => all.slice(i + 1).filter(([f, q]) => Math.max(q.left - r.right, r.left - q.right, q.top - r.bottom, r.top - q.bottom) < 7.5).map(([f]) => e.textContent + " | " + f.textContent)); })()`)
	require.Empty(t, near, "targets nearer than 8 px")
}

// letters checks the least size of text, and that the reading which matters is
// large and heavy.
func (b *browser) letters(t *testing.T) {
	t.Helper()
	small := ask[[]string](t, b, `[...document.querySelectorAll("body *")].filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()) && !["SCRIPT","TITLE","NOSCRIPT","title"].includes(e.tagName))
		.filter(e => parseFloat(getComputedStyle(e).fontSize) < 14).map(e => e.outerHTML.slice(0, 80))`)
	require.Empty(t, small, "text below 14 px")
	for _, px := range ask[[]float64](t, b, `[...document.querySelectorAll(".big .value")].map(e => parseFloat(getComputedStyle(e).fontSize))`) {
		require.GreaterOrEqual(t, px, 40.0)
	}
}

// answerInView checks that what must be seen at once needs no scrolling.
func (b *browser) answerInView(t *testing.T, height int64) {
	t.Helper()
	bottom := ask[float64](t, b, `document.querySelector(".answer .coverage").getBoundingClientRect().bottom`)
	thumb := ask[float64](t, b, `document.querySelector(".thumb").getBoundingClientRect().height`)
	if height >= 640 {
		require.LessOrEqual(t, bottom, float64(height)-thumb, "the answer does not fit the first screen")
	}
}

func TestBrowserLive(t *testing.T) {
	b := newBrowser(t)
	sc := steady()
	feed := sc.feed()
	opt := testOptions()
	opt.Now = nil
	live := &scene{snap: sc.snap}
	publish := func() {
		p := live.snap
		live.snap.Seq++
		p.Seq, p.Wall, p.Mono = live.snap.Seq, time.Now(), live.snap.Mono+time.Duration(live.snap.Seq-sc.snap.Seq)*100*time.Millisecond
		feed.Publish(&p)
	}
	publish()
	srv := httptest.NewServer(newServer(opt, feed).handler())
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		tick := time.NewTicker(100 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
				publish()
			}
		}
	})
	defer wg.Wait()
	defer close(stop)

	b.open(t, 360, 640, srv.URL)
	seq := ask[string](t, b, `document.body.dataset.seq`)
	b.wait(t, `document.body.dataset.seq !== "`+seq+`"`)
	require.Empty(t, ask[string](t, b, `document.documentElement.className + document.getElementById("lost").textContent`))

	ask[int](t, b, `window.stopped = performance.now(); 0`)
	srv.Listener.Close()
	srv.CloseClientConnections()
	b.wait(t, `!document.getElementById("lost").hidden`)
	took := ask[float64](t, b, `performance.now() - window.stopped`)
	t.Logf("the banner came within %.0f ms after the server stopped", took)
	require.Less(t, took, 2000.0)
	b.wait(t, `document.getElementById("lost").textContent.includes("Connection lost")`)
	require.Equal(t, "line-through", ask[string](t, b, `getComputedStyle(document.querySelector(".big .value")).textDecorationLine`))
	b.shoot(t, "lost_phone")
}

// TestBrowserComesBack stops the readings and then the connection, and looks
// for the full state afterwards.
func TestBrowserComesBack(t *testing.T) {
	b := newBrowser(t)
	feed := steady().feed()
	opt := testOptions()
	h := newServer(opt, feed).handler()
	var down sync.Map
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if _, no := down.Load("down"); no && strings.Contains(r.URL.Path, "stream") {
			http.Error(w, "down", http.StatusBadGateway)
			return
		}
		h.ServeHTTP(w, r)
	}))
	defer srv.Close()
	defer srv.CloseClientConnections()
	b.open(t, 360, 640, srv.URL)
	b.wait(t, `document.getElementById("lost").textContent.includes("No new readings")`)
	down.Store("down", true)
	srv.CloseClientConnections()
	b.wait(t, `document.getElementById("lost").textContent.includes("Connection lost")`)
	// What happened meanwhile must be on the page before it says that it lives.
	worse := starving()
	worse.snap.Seq += 50
	feed.Publish(&worse.snap)
	down.Delete("down")
	b.wait(t, isLive)
	require.Contains(t, ask[string](t, b, `document.querySelector(".answer .word").textContent`), "Act now")
}
