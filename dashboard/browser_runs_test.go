package dashboard

import (
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/dashboard/webtest"
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

// The pointer reads every channel at one moment, and a drag looks closer.
func TestBrowserReadsAndLooksCloser(t *testing.T) {
	b := webtest.New(t)
	s, _ := morning(t)
	srv := httptest.NewServer(s.handler())
	t.Cleanup(srv.Close)
	b.Do(t, chromedp.EmulateViewport(1280, 800), chromedp.Navigate(srv.URL+"/runs/1.1"))
	point := func(kind string, share float64) {
		b.Do(t, chromedp.Evaluate[chromedp.Void](pointer(kind, share)+"; void 0"))
	}
	point("pointermove", 0.5)
	b.Do(t, chromedp.Poll[chromedp.Void](`!document.querySelector("[data-readout]").hidden`))
	read := webtest.Ask[string](t, b, `document.querySelector("[data-readout]").textContent`)
	require.Contains(t, read, "Inlet pressure")
	require.Contains(t, read, "Flow")

	point("pointerdown", 0.4)
	point("pointermove", 0.6)
	point("pointerup", 0.6)
	require.Eventually(t, func() bool { // while the page changes, nothing answers
		there, err := chromedp.Run(b.Ctx, chromedp.Evaluate[bool](`location.search.includes("from=") && document.readyState === "complete"`))
		return err == nil && there
	}, 15*time.Second, 50*time.Millisecond)
	whole, closer := spanShown(t, srv.URL+"/runs/1.1", b), spanShown(t, "", b)
	require.InDelta(t, 0.2*whole, closer, 0.02*whole)
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

// spanShown is the length of what a page shows, in seconds; an empty address is
// the page that is open.
func spanShown(t *testing.T, address string, b *webtest.Browser) float64 {
	const ask = `(() => { const d = document.querySelector("[data-look]").dataset; return Number(d.to) - Number(d.from); })()`
	if address == "" {
		return webtest.Ask[float64](t, b, ask)
	}
	return webtest.Ask[float64](t, b, `fetch("`+address+`").then((r) => r.text()).then((text) => {
		const d = new DOMParser().parseFromString(text, "text/html").querySelector("[data-look]").dataset;
		return Number(d.to) - Number(d.from);
	})`)
}
