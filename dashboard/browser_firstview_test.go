package dashboard

import (
	"math"
	"net/http/httptest"
	"slices"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/dashboard/webtest"
)

// firstViewMs is how long a phone of five years may take until the answer
// stands on the screen. Source: the project's own requirement.
const firstViewMs = 1000.0

// The first view of the live page, with nothing kept from before and the page's
// thread held to a sixth of this machine's speed: when the largest thing on the
// screen is painted, which is the answer, and when the page says that it is
// live. Other work on the test's machine can make a load slow and none can make
// it fast, so the best of several loads is what the page itself takes.
func TestBrowserFirstViewIsFast(t *testing.T) {
	const tries, most = 5, 30
	for name, sc := range map[string]*scene{"quiet": steady(), "alarm": phases()} {
		srv := httptest.NewServer(newServer(testOptions(), sc.feed()).handler())
		t.Cleanup(srv.Close)
		t.Cleanup(srv.CloseClientConnections)
		b := webtest.New(t)
		throttle(t, b)
		var painted, live []float64
		for len(painted) < tries || len(painted) < most && slices.Min(painted) > firstViewMs {
			b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(srv.URL))
			b.Wait(t, webtest.IsLive+` && window.painted > 0 && window.isLive > 0`)
			painted = append(painted, webtest.Ask[float64](t, b, `window.painted`))
			live = append(live, webtest.Ask[float64](t, b, `window.isLive`))
		}
		best, said := slices.Min(painted), slices.Min(live)
		slices.Sort(painted)
		t.Logf("%s, %dx slower: the answer is painted after %.0f ms (median of %d loads %.0f), live after %.0f ms", name, slower, best, len(painted), painted[len(painted)/2], said)
		require.Less(t, best, firstViewMs)
		require.Empty(t, b.Problems())
	}
}

// throttle slows the page's thread, forgets everything between two loads, and
// has each load tell when it was painted and live.
func throttle(t *testing.T, b *webtest.Browser) {
	t.Helper()
	const busy = `(() => { const took = []; for (let n = 0; n < 5; n++) { const t = performance.now(); let x = 0; for (let i = 0; i < 1e7; i++) x += i % 7; took.push(performance.now() - t + x * 0); } return Math.min(...took); })()`
	rate := func(r float64) {
		_, err := chromedp.Call(b.Ctx, emulation.SetCPUThrottlingRate, emulation.SetCPUThrottlingRateParams{Rate: r})
		require.NoError(t, err)
	}
	// Other work on the machine makes the free thread look slow, never quick.
	free, held := math.Inf(1), 0.0
	for n := 0; n < 10 && held <= 2.5*free; n++ {
		rate(1)
		free = min(free, webtest.Ask[float64](t, b, busy))
		rate(slower)
		held = webtest.Ask[float64](t, b, busy)
	}
	require.Greater(t, held, 2.5*free, "the page's thread isn't held back")
	_, err := chromedp.Call(b.Ctx, network.SetCacheDisabled, network.SetCacheDisabledParams{CacheDisabled: true})
	require.NoError(t, err)
	_, err = chromedp.Call(b.Ctx, page.Enable, page.EnableParams{})
	require.NoError(t, err)
	_, err = chromedp.Call(b.Ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `
		window.painted = 0; window.isLive = 0;
		new PerformanceObserver((list) => { for (const e of list.getEntries()) window.painted = e.startTime; }).observe({type: "largest-contentful-paint", buffered: true});
		new MutationObserver(() => { if (!window.isLive && document.getElementById("link")?.textContent === "Live") window.isLive = performance.now(); }).observe(document, {subtree: true, childList: true, characterData: true});`})
	require.NoError(t, err)
}
