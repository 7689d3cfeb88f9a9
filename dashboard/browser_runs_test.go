package dashboard

import (
	"math"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/daemon/store"
	"headroom/dashboard/webtest"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// runPages are the pages of runs by the name of their picture.
var runPages = map[string]string{
	"runs": "/runs", "runs_found": "/runs?q=cavit&incidents=1", "run": "/runs/1.1", "run_closer": "/runs/1.1?from=55&to=75&see=3#chart",
	"compare": "/runs/compare?a=1.1&b=1.1", "whatif": "/runs/1.1/whatif?set=" + url.QueryEscape(`rules.inlet_low.act = "1 psi"`),
}

func TestBrowserRunPages(t *testing.T) {
	b := webtest.New(t)
	s, _ := morning(t)
	srv := httptest.NewServer(s.handler())
	t.Cleanup(srv.Close)
	for name, path := range runPages {
		for _, scr := range screens {
			t.Run(name+" "+scr.name, func(t *testing.T) {
				b.Do(t, chromedp.EmulateViewport(scr.w, scr.h), chromedp.Navigate(srv.URL+path))
				b.NoSideScroll(t)
				b.Targets(t)
				b.Letters(t)
				b.Axe(t)
				b.Shoot(t, name+"_"+scr.name)
			})
		}
	}
	require.Empty(t, b.Problems())
}

// The pointer reads every channel at the moment where it is, within sight of it.
// What is wanted is what the record itself holds of that moment.
func TestBrowserReadsTheMomentPointedAt(t *testing.T) {
	b := webtest.New(t)
	s, rec := morning(t)
	srv := httptest.NewServer(s.handler())
	t.Cleanup(srv.Close)
	id := store.RunID{Boot: 1, N: 1}
	run, err := rec.Run(t.Context(), id)
	require.NoError(t, err)
	seen := map[string]bool{}
	for _, scr := range screens[1:2] {
		b.Do(t, chromedp.EmulateViewport(scr.w, scr.h), chromedp.Navigate(srv.URL+"/runs/1.1"))
		for _, share := range []float64{0.3, 0.7} {
			shown := pointAt(t, b, share)
			at := spanShown(t, "", b)
			// Two spans of the series on each side: a place is no finer than a pixel.
			mid, side := run.Start+seconds(at[0]+share*(at[1]-at[0])), seconds((at[1]-at[0])/150)
			for ch, form := range map[frame.Channel]string{frame.InletPressure: `Inlet pressure ([\d.−-]+)(?: to ([\d.−-]+))? kPa`, frame.Flow: `Flow ([\d.]+)(?: to ([\d.]+))? L/min`} {
				bs, err := rec.Buckets(t.Context(), store.RunID{Boot: 1}, ch, mid-side, mid+side, 1)
				require.NoError(t, err)
				u := units.For(ch.Quantity(), units.SI)
				m := regexp.MustCompile(form).FindStringSubmatch(shown)
				require.NotNil(t, m, "%s in %q", form, shown)
				for _, text := range m[1:] {
					if text == "" {
						continue
					}
					v, err := strconv.ParseFloat(text, 64)
					require.NoError(t, err)
					slack := math.Pow(10, -float64(u.Decimals))
					require.GreaterOrEqual(t, v, u.FromSI(bs[0].Min)-slack, "%s at %g on %s", ch, share, scr.name)
					require.LessOrEqual(t, v, u.FromSI(bs[0].Max)+slack, "%s at %g on %s", ch, share, scr.name)
				}
				seen[m[0]] = true
			}
			require.Contains(t, shown, "Running on", "a switch is on or off here as on the live page")
		}
		b.Shoot(t, "run_read_"+scr.name)
	}
	require.Greater(t, len(seen), 2, "the two moments differ, or this shows nothing")
	require.Empty(t, b.Problems())
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// pointAt brings the sheet's upper edge to the top of the window, moves the
// mouse to a share of its time axis, and returns what the read-out says once it
// can be seen.
func pointAt(t *testing.T, b *webtest.Browser, share float64) string {
	t.Helper()
	at := webtest.Ask[[]float64](t, b, sheetPlace(share))
	_, err := chromedp.Call(b.Ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: input.DispatchMouseEventTypeMouseMoved, X: at[0], Y: at[1]})
	require.NoError(t, err)
	b.Wait(t, `!document.querySelector("[data-readout]").hidden`)
	require.Empty(t, webtest.Ask[string](t, b, `(() => {
		const e = document.querySelector("[data-readout]"), r = e.getBoundingClientRect();
		const hit = document.elementFromPoint(r.left + r.width / 2, r.top + r.height / 2);
		if (r.top < 0 || r.bottom > innerHeight + 1) return "it lies at " + r.top + " to " + r.bottom + " of " + innerHeight;
		if (r.height > innerHeight / 2) return "it covers the sheet: " + r.height;
		if (!e.checkVisibility({opacityProperty: true, visibilityProperty: true})) return "it can't be seen";
		return e.contains(hit) ? "" : "it is covered by " + hit?.outerHTML.slice(0, 80);
	})()`))
	return webtest.Ask[string](t, b, `document.querySelector("[data-readout]").textContent`)
}

// sheetPlace scrolls to the sheet and gives the place of a share of its axis.
func sheetPlace(share float64) string {
	return strings.ReplaceAll(`(() => {
		const box = document.querySelector("[data-look]"), svg = box.querySelector("svg.sheet");
		box.scrollIntoView({block: "start"});
		const r = svg.getBoundingClientRect(), left = Number(box.dataset.left), right = Number(box.dataset.right), width = Number(box.dataset.width);
		return [r.left + r.width * (left + (right - left) * SHARE) / width, r.top + 60];
	})()`, "SHARE", fixed(share))
}

// A drag looks closer.
func TestBrowserReadsAndLooksCloser(t *testing.T) {
	b := webtest.New(t)
	s, _ := morning(t)
	srv := httptest.NewServer(s.handler())
	t.Cleanup(srv.Close)
	b.Do(t, chromedp.EmulateViewport(1280, 800), chromedp.Navigate(srv.URL+"/runs/1.1"))
	point := func(kind string, share float64) {
		b.Do(t, chromedp.Evaluate[chromedp.Void](pointer(kind, share)+"; void 0"))
	}
	point("pointerdown", 0.4)
	point("pointermove", 0.6)
	point("pointerup", 0.6)
	require.Eventually(t, func() bool { // while the page changes, nothing answers
		there, err := chromedp.Run(b.Ctx, chromedp.Evaluate[bool](`location.search.includes("from=") && document.readyState === "complete"`))
		return err == nil && there
	}, 15*time.Second, 50*time.Millisecond)
	whole, closer := spanShown(t, srv.URL+"/runs/1.1", b), spanShown(t, "", b)
	require.InDelta(t, 0.2*(whole[1]-whole[0]), closer[1]-closer[0], 0.02*(whole[1]-whole[0]))
	require.Empty(t, b.Problems())
}

// pointer makes an event on the sheet at a share of its axis.
func pointer(kind string, share float64) string {
	return strings.NewReplacer("KIND", kind, "SHARE", fixed(share)).Replace(`(() => {
		const box = document.querySelector("[data-look]"), svg = box.querySelector("svg.sheet"), r = svg.getBoundingClientRect();
		const left = Number(box.dataset.left), right = Number(box.dataset.right), width = Number(box.dataset.width);
		const x = r.left + r.width * (left + (right - left) * SHARE) / width;
		svg.dispatchEvent(new PointerEvent("KIND", {bubbles: true, clientX: x, clientY: r.top + 60, pointerId: 1, pointerType: "touch"}));
	})()`)
}

// spanShown is what a page shows, from and to in seconds; an empty address is
// the page that is open.
func spanShown(t *testing.T, address string, b *webtest.Browser) []float64 {
	const ask = `(() => { const d = document.querySelector("[data-look]").dataset; return [Number(d.from), Number(d.to)]; })()`
	if address == "" {
		return webtest.Ask[[]float64](t, b, ask)
	}
	return webtest.Ask[[]float64](t, b, `fetch("`+address+`").then((r) => r.text()).then((text) => {
		const d = new DOMParser().parseFromString(text, "text/html").querySelector("[data-look]").dataset;
		return [Number(d.from), Number(d.to)];
	})`)
}
