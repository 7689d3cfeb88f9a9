// Package webtest drives a real browser for tests of the pages. It owns one tab
// with what it asked for and complained of, and the checks that hold for every
// page: nothing scrolls sideways, targets are large and apart, letters are large
// enough, and what the axe rules say. It refuses to know any page: what must
// stand on one is its own test's business. Nothing of it is in the program.
package webtest

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

// screenshotsEnv names a folder that keeps the screenshots; without it they go
// where the test's other files go.
const screenshotsEnv = "HEADROOM_SCREENSHOTS"

// Browser is one tab.
type Browser struct {
	// Ctx is chromedp's context of the tab.
	Ctx context.Context

	mu       sync.Mutex
	asked    []string
	problems []string
}

// New opens Debian's Chromium without a window; whatever it would ask of the
// world is switched off.
func New(t testing.TB) *Browser {
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
	b := &Browser{Ctx: ctx}
	require.NoError(t, chromedp.Listen(ctx, b.hear))
	_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	return b
}

// Asked returns the addresses of all that was asked for so far.
func (b *Browser) Asked() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return append([]string(nil), b.asked...)
}

// Problems returns the scripts' exceptions so far.
func (b *Browser) Problems() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return append([]string(nil), b.problems...)
}

func (b *Browser) hear(ev any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := ev.(type) {
	case *network.EventRequestWillBeSent:
		b.asked = append(b.asked, e.Request.URL)
	case *runtime.EventExceptionThrown:
		b.problems = append(b.problems, e.ExceptionDetails.Text)
	}
}

// Do takes steps within a time that no healthy page needs.
func (b *Browser) Do(t testing.TB, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.Ctx, 20*time.Second)
	defer cancel()
	for _, step := range steps {
		require.NoError(t, onThePageThatCame(ctx, func() error { return chromedp.Do(ctx, step) }, nothingDone...))
	}
}

// What the browser says of a step that met a page just when another took its
// place: of one that has done nothing, and of one that may have.
var (
	nothingDone = []string{"Cannot find context with specified id", "ould not find node with given id"}
	perhapsDone = append([]string{"Execution context was destroyed", "Inspected target navigated or closed"}, nothingDone...)
)

// onThePageThatCame takes a step again that fails with one of the words.
func onThePageThatCame(ctx context.Context, step func() error, words ...string) error {
	for {
		err := step()
		if err == nil || ctx.Err() != nil || !slices.ContainsFunc(words, func(w string) bool { return strings.Contains(err.Error(), w) }) {
			return err
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// Wait waits until a JavaScript expression holds.
func (b *Browser) Wait(t testing.TB, expr string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.Ctx, 20*time.Second)
	defer cancel()
	poll := chromedp.Poll[chromedp.Void](expr, chromedp.WithPollingInterval(20*time.Millisecond), chromedp.WithPollingTimeout(15*time.Second))
	require.NoError(t, onThePageThatCame(ctx, func() error { return chromedp.Do(ctx, poll) }, perhapsDone...), expr)
}

// IsLive holds once the live page has a full state.
const IsLive = `document.getElementById("link").textContent === "Live"`

// Ask returns a JavaScript expression's value.
func Ask[T any](t testing.TB, b *Browser, expr string) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.Ctx, 20*time.Second)
	defer cancel()
	var v T
	require.NoError(t, onThePageThatCame(ctx, func() (err error) {
		v, err = chromedp.Run(ctx, chromedp.Evaluate[T](expr, chromedp.EvalAwaitPromise))
		return err
	}, nothingDone...))
	return v
}

// Open opens the live page in a window of that size and waits until it lives.
func (b *Browser) Open(t testing.TB, w, h int64, url string) {
	t.Helper()
	b.Do(t, chromedp.EmulateViewport(w, h), chromedp.Navigate(url))
	b.Wait(t, IsLive)
}

// Shoot keeps a picture of what is on the screen, and of the whole page.
func (b *Browser) Shoot(t testing.TB, name string) {
	t.Helper()
	dir := os.Getenv(screenshotsEnv)
	if dir == "" {
		dir = t.TempDir()
	}
	first, err := chromedp.Run(b.Ctx, chromedp.CaptureScreenshot())
	require.NoError(t, err)
	whole, err := chromedp.Run(b.Ctx, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+".png"), first, 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+"_whole.png"), whole, 0o644))
}

// NoSideScroll checks that the page fits the width.
func (b *Browser) NoSideScroll(t testing.TB) {
	t.Helper()
	require.False(t, Ask[bool](t, b, `document.documentElement.scrollWidth > window.innerWidth`), "the page scrolls sideways")
}

// Targets checks the least size of what can be tapped, in CSS pixels, and the
// distances: 8 px, and 16 px around what throws something away, which is a form
// that ends or undoes something or has the class drops.
func (b *Browser) Targets(t testing.TB) {
	t.Helper()
	small := Ask[[]string](t, b, `[...document.querySelectorAll("a,button,input:not([type=hidden],[type=radio]),summary,select,textarea,label:has(input)")]
		.filter(e => e.checkVisibility()).map(e => [e, e.getBoundingClientRect()]).filter(([e, r]) => r.width < 48 || r.height < 48)
		.map(([e, r]) => e.outerHTML.slice(0, 80) + " " + r.width + "x" + r.height)`)
	require.Empty(t, small, "targets below 48 by 48")
	low := Ask[[]string](t, b, `[...document.querySelectorAll(".press")].filter(e => e.checkVisibility()).map(e => [e, e.getBoundingClientRect()])
		.filter(([e, r]) => r.height < 64 || innerWidth < 400 && r.width < innerWidth * 0.75).map(([e, r]) => e.textContent + " " + r.width + "x" + r.height)`)
	require.Empty(t, low, "what a wet thumb must hit is lower than 64 or not the width of the phone")
	near := Ask[[]string](t, b, `(() => { const all = [...document.querySelectorAll("a,button,input:not([type=hidden],[type=radio]),summary,select,textarea,label:has(input)")].filter(e => e.checkVisibility() && !e.closest(".thumb,.told")).map(e => [e, e.getBoundingClientRect()]);
		return all.flatMap(([e, r], i) => all.slice(i + 1).filter(([f, q]) => Math.max(q.left - r.right, r.left - q.right, q.top - r.bottom, r.top - q.bottom) < 7.5).map(([f]) => e.textContent + " | " + f.textContent)); })()`)
	require.Empty(t, near, "targets nearer than 8 px")
	beside := Ask[[]string](t, b, `(() => {
		const drops = [...document.querySelectorAll(".drops, form:is([action$='/abort'], [action$='/undo'], [action$='/reset'], [action$='/out-of-service']) button")].filter(e => e.checkVisibility());
		const all = [...document.querySelectorAll("a,button,input:not([type=hidden],[type=radio]),summary,select,textarea,label:has(input)")].filter(e => e.checkVisibility() && !e.closest(".thumb,.told"));
		// What lies under the bar of the thumb can't be tapped there.
		const over = (e) => e.closest(".thumb form")?.getBoundingClientRect().top ?? Infinity;
		return drops.flatMap(e => { const r = e.getBoundingClientRect(), bar = over(e);
			return all.filter(f => f !== e && !(e.closest("form") && e.closest("form") === f.closest("form"))).filter(f => { const q = f.getBoundingClientRect();
				return q.top < bar && Math.max(q.left - r.right, r.left - q.right, q.top - r.bottom, r.top - Math.min(q.bottom, bar)) < 15.5; }).map(f => e.textContent + " | " + f.textContent); }); })()`)
	require.Empty(t, beside, "what throws something away is nearer than 16 px to something else")
}

// Letters checks the least size of text, and that the reading which matters is
// large and heavy. A picture that is drawn for another width of screen has no size
// here.
func (b *Browser) Letters(t testing.TB) {
	t.Helper()
	small := Ask[[]string](t, b, `[...document.querySelectorAll("body *")].filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()) && !["SCRIPT","TITLE","NOSCRIPT","title","desc"].includes(e.tagName) && (!e.ownerSVGElement || e.ownerSVGElement.checkVisibility()))
		.filter(e => parseFloat(getComputedStyle(e).fontSize) * (e.ownerSVGElement ? Math.hypot(e.getScreenCTM().a, e.getScreenCTM().b) : 1) < 14).map(e => e.outerHTML.slice(0, 80))`)
	require.Empty(t, small, "text below 14 px")
	for _, px := range Ask[[]float64](t, b, `[...document.querySelectorAll(".big .value")].map(e => parseFloat(getComputedStyle(e).fontSize))`) {
		require.GreaterOrEqual(t, px, 40.0)
	}
}

// Tap touches the middle of an element, as a thumb does.
func (b *Browser) Tap(t testing.TB, selector string) {
	t.Helper()
	at := Ask[[]float64](t, b, `(() => { const e = document.querySelector(`+"`"+selector+"`"+`); e.scrollIntoView({block: "center"}); const r = e.getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()`)
	b.Do(t, chromedp.TapXY(at[0], at[1]))
}

// Touch makes the page one that is touched and not clicked.
func (b *Browser) Touch(t testing.TB) {
	t.Helper()
	_, err := chromedp.Call(b.Ctx, emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: true})
	require.NoError(t, err)
}

// GoTo navigates while the answer to a form may still be on its way: the
// browser then gives up one of the two, and the second try finds it at rest.
func (b *Browser) GoTo(t testing.TB, url string) {
	t.Helper()
	require.Eventually(t, func() bool {
		ctx, cancel := context.WithTimeout(b.Ctx, 20*time.Second)
		defer cancel()
		return chromedp.Do(ctx, chromedp.Navigate(url)) == nil
	}, time.Minute, 200*time.Millisecond)
}

// SteadyNow waits until the page has not moved for so long that taps count.
func (b *Browser) SteadyNow() { time.Sleep(700 * time.Millisecond) }
