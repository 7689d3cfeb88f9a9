package dashboard

import (
	"bytes"
	"net/http/httptest"
	"regexp"
	"strconv"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/dashboard/webtest"
)

// Text twice as large, and a phone held sideways. Source: WCAG 2.2, 1.4.4 and
// 1.3.4.
func TestBrowserLargeTextAndLandscape(t *testing.T) {
	d := newDay(t)
	srv := httptest.NewServer(newServer(d.opt, starving().feed()).handler())
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	b := webtest.New(t)
	pages := map[string]string{"live": "/"}
	for name, path := range dayPages {
		pages[name] = path
	}
	for name, path := range pages {
		b.Do(t, chromedp.EmulateViewport(640, 360), chromedp.Navigate(srv.URL+path))
		b.NoSideScroll(t)
		for w, px := range map[int64]string{360: "36px", 720: "36px", 1280: "36px"} {
			b.Do(t, chromedp.EmulateViewport(w, 800))
			webtest.Ask[int](t, b, `document.documentElement.style.fontSize = "`+px+`"; 0`)
			require.Empty(t, webtest.Ask[[]string](t, b, `document.documentElement.scrollWidth <= innerWidth ? [] : [...document.querySelectorAll("main *, header *")].filter(e => e.checkVisibility() && !e.closest(".scroll,svg") && e.getBoundingClientRect().right > innerWidth + 1).map(e => e.outerHTML.slice(0, 90))`), "%s at %d", name, w)
		}
	}
}

// Body text and primary values are as large as is read at arm's length.
func TestBrowserSizes(t *testing.T) {
	srv := httptest.NewServer(newServer(testOptions(), steady().feed()).handler())
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	b := webtest.New(t)
	b.Open(t, 360, 640, srv.URL)
	size := func(selector string) float64 {
		return webtest.Ask[float64](t, b, `parseFloat(getComputedStyle(document.querySelector("`+selector+`")).fontSize)`)
	}
	weight := func(selector string) float64 {
		return webtest.Ask[float64](t, b, `parseFloat(getComputedStyle(document.querySelector("`+selector+`")).fontWeight)`)
	}
	require.GreaterOrEqual(t, size("body"), 18.0)
	require.GreaterOrEqual(t, size(".reading .value"), 32.0)
	require.GreaterOrEqual(t, weight(".reading .value"), 600.0)
	require.GreaterOrEqual(t, size(".big .value"), 56.0, "22 minutes of arc at a metre")
	require.GreaterOrEqual(t, size(".big .unit"), 28.0, "the same at half a metre")
	require.GreaterOrEqual(t, weight(".big .value"), 600.0)
	require.Contains(t, webtest.Ask[string](t, b, `getComputedStyle(document.body).fontVariantNumeric`), "tabular-nums")
	b.Do(t, chromedp.EmulateViewport(1280, 800))
	require.GreaterOrEqual(t, size(".big .value"), 56.0)
}

// What is printed is dark on white, without what only a screen needs.
func TestBrowserPrints(t *testing.T) {
	d := newDay(t)
	srv := httptest.NewServer(newServer(d.opt, starving().feed()).handler())
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	b := webtest.New(t)
	for path, most := range map[string]int{"/": 5, "/handbook": 3, "/limits": 4, "/start": 3, "/handbook/wiring": 2} {
		b.Do(t, chromedp.EmulateViewport(1280, 800), chromedp.Navigate(srv.URL+path))
		for _, paper := range []struct{ w, h float64 }{{8.27, 11.69}, {8.5, 11}} {
			res, err := chromedp.Call(b.Ctx, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: paper.w, PaperHeight: paper.h})
			require.NoError(t, err)
			pdf := []byte(res.Data)
			require.True(t, bytes.HasPrefix(pdf, []byte("%PDF-")), path)
			pages := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1))
			require.True(t, pages >= 1 && pages <= most, "%s has %d pages", path, pages)
		}
		_, err := chromedp.Call(b.Ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		require.NoError(t, err)
		require.Zero(t, webtest.Ask[int](t, b, `[...document.querySelectorAll(".menu,.thumb,.units,.sound,.lost")].filter(e => e.checkVisibility()).length`), path)
		require.Empty(t, webtest.Ask[[]string](t, b, `[...document.querySelectorAll("*")].filter(e => getComputedStyle(e).position === "fixed" && e.checkVisibility()).map(e => e.className)`), path)
		_, err = chromedp.Call(b.Ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{})
		require.NoError(t, err)
	}
}

// An output is driven as long as its button is held, and not a moment longer; a
// finger that slips off lets go, and so does a page that goes away.
func TestBrowserHoldsAnOutput(t *testing.T) {
	d := newDay(t)
	srv := httptest.NewServer(newServer(d.opt, idle().feed()).handler())
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	b := webtest.New(t)
	b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(srv.URL+"/setup/outputs"), chromedp.WaitVisible("[data-hold] button"))
	at := webtest.Ask[[]float64](t, b, `(() => { const r = document.querySelector("[data-hold] button").getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()`)
	mouse := func(kind input.DispatchMouseEventType, x, y float64) {
		_, err := chromedp.Call(b.Ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: kind, X: x, Y: y, Button: input.MouseButtonLeft, ClickCount: 1})
		require.NoError(t, err)
	}
	// asked notes in the page itself what it asks for, the moment it does.
	webtest.Ask[int](t, b, `window.asked = []; const ask = window.fetch; window.fetch = (url, ...a) => { if (/hold|release/.test(url)) window.asked.push(url.split("/").pop()); return ask(url, ...a); }; 0`)
	asked := func() []string { return webtest.Ask[[]string](t, b, `window.asked`) }
	until := func(n int) {
		t.Helper()
		require.Eventually(t, func() bool { return len(d.outputs.list()) >= n }, 15*time.Second, 20*time.Millisecond)
	}
	mouse(input.DispatchMouseEventTypeMousePressed, at[0], at[1])
	until(3) // again and again while it is held
	mouse(input.DispatchMouseEventTypeMouseReleased, at[0], at[1])
	until(len(asked()))
	time.Sleep(900 * time.Millisecond)
	did := d.outputs.list()
	require.Len(t, did, len(asked()), "nothing is asked for after the release")
	for _, what := range did[:len(did)-1] {
		require.Equal(t, "hold beacon", what)
	}
	require.Equal(t, "release beacon", did[len(did)-1], "and nothing after it: %v", did)
	names := d.outputs.named()
	require.NotEmpty(t, names[0])
	for _, n := range names {
		require.Equal(t, names[0], n, "one press has one name, its release too")
	}

	mouse(input.DispatchMouseEventTypeMousePressed, at[0], at[1])
	until(len(did) + 1)
	require.Equal(t, "release", webtest.Ask[string](t, b, `Object.defineProperty(document, "hidden", {value: true, configurable: true}); document.dispatchEvent(new Event("visibilitychange")); window.asked.at(-1)`), "not a moment longer")
	until(len(asked()))
	did = d.outputs.list()
	require.Equal(t, "release beacon", did[len(did)-1])
	again := d.outputs.named()
	require.NotEqual(t, names[0], again[len(again)-1], "the next press has another")
	mouse(input.DispatchMouseEventTypeMouseReleased, at[0], at[1])

	// What is refused is said.
	d.outputs.fail("the machine runs: stop it first")
	mouse(input.DispatchMouseEventTypeMousePressed, at[0], at[1])
	b.Wait(t, `document.getElementById("told").textContent === "The machine runs: stop it first."`)
	mouse(input.DispatchMouseEventTypeMouseReleased, at[0], at[1])
	// The reset is two steps away from a wet thumb.
	require.False(t, webtest.Ask[bool](t, b, `document.querySelector('form[action$="/reset"] button').checkVisibility()`))
	require.Empty(t, b.Problems())
}

// No green says that all is well: it is the absence of colour that does. Source:
// ISA-101.01 and IEC 60073, by the project's list of requirements.
func TestNoColourSaysThatAllIsWell(t *testing.T) {
	for name, hex := range tokens(t) {
		h := hex[1:]
		if len(h) == 3 {
			h = string([]byte{h[0], h[0], h[1], h[1], h[2], h[2]})
		}
		n, err := strconv.ParseUint(h, 16, 32)
		require.NoError(t, err)
		r, g, bl := n>>16, n>>8&255, n&255
		require.False(t, g > r && g > bl, "%s is a green", name)
	}
}
