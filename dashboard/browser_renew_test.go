package dashboard

import (
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/dashboard/webtest"
	"headroom/rules/frame"
	"headroom/sensors/calibrate"
)

// until waits for an expression through a page that loads itself anew: what the
// old page can't answer any more is asked again.
func until(t *testing.T, b *webtest.Browser, expr string) {
	t.Helper()
	require.Eventually(t, func() bool {
		v, err := chromedp.Run(b.Ctx, chromedp.Evaluate[bool](expr))
		return err == nil && v
	}, 20*time.Second, 50*time.Millisecond, expr)
}

// Two phones on one calibration: what one of them ends is over on the other one
// too, and no reading of it stands there as if it were of now.
func TestBrowserRenewsWhatIsOver(t *testing.T) {
	d := newDay(t)
	srv := httptest.NewServer(newServer(d.opt, steady().feed()).handler())
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	ch, path := frame.InletPressure, srv.URL+dayPages["calibration"]
	require.NoError(t, d.cal.Begin(ch, "Ada"))
	require.NoError(t, d.cal.Next(ch, "m", calibrate.Choose{Method: calibrate.TwoPoint}))
	d.cal.steady(ch, 2e3)
	b := webtest.New(t)
	b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(path))
	b.Wait(t, `document.querySelector(".probe dd b")?.textContent === "steady: a point may be taken"`)
	_, err := srv.Client().PostForm(path+"/cancel", url.Values{"mark": {"m"}})
	require.NoError(t, err)
	until(t, b, `!document.body.textContent.includes("a point may be taken") && document.body.textContent.includes("Calibrate anew")`)
	require.Empty(t, b.Problems())
}

// The answer to a form says what was done and is slower than a look: the look
// finds that the calibration is over, and must not take the answer's place.
func TestBrowserLeavesAFormItsAnswer(t *testing.T) {
	d := newDay(t)
	h := newServer(d.opt, steady().feed()).handler()
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodPost {
			h.ServeHTTP(w, r)
			return
		}
		done := httptest.NewRecorder()
		h.ServeHTTP(done, r)
		time.Sleep(2500 * time.Millisecond) // three looks
		maps.Copy(w.Header(), done.Header())
		w.WriteHeader(done.Code)
	}))
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	ch := frame.InletPressure
	require.NoError(t, d.cal.Begin(ch, "Ada"))
	require.NoError(t, d.cal.Next(ch, "m", calibrate.Choose{Method: calibrate.TwoPoint}))
	d.cal.steady(ch, 2e3)
	b := webtest.New(t)
	b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(srv.URL+dayPages["calibration"]), chromedp.WaitVisible(`form[action$="/cancel"] button`))
	b.Do(t, chromedp.Click(`form[action$="/cancel"] button`))
	b.Wait(t, `document.readyState === "complete" && document.querySelector(".said") !== null`)
	require.Empty(t, b.Problems())
}

// A machine that still answers and has no new readings is said so on the pages
// without a stream, too, with and without their script.
func TestBrowserSaysOldReadingsOnEveryPage(t *testing.T) {
	d := newDay(t)
	var late atomic.Int64
	d.opt.Now = func() time.Time { return noon.Add(time.Duration(late.Load())) }
	h := newServer(d.opt, steady().feed()).handler()
	srv := httptest.NewServer(h)
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	require.NoError(t, d.cal.Begin(frame.InletPressure, "Ada"))
	b := webtest.New(t)
	pages := []string{"setup", "outputs", "calibration", "supply_1"}
	for _, name := range pages {
		late.Store(0)
		b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(srv.URL+dayPages[name]))
		require.NotContains(t, text(t, get(t, h, dayPages[name])), "No new readings")
		require.True(t, webtest.Ask[bool](t, b, `document.getElementById("lost").hidden`))
		late.Store(int64(14 * time.Second))
		b.Wait(t, `!document.getElementById("lost").hidden && document.getElementById("lost").textContent.startsWith("No new readings: values are 1")`)
		require.True(t, webtest.Ask[bool](t, b, `document.documentElement.classList.contains("is-lost")`), name)
		for _, scr := range screens[:2] {
			b.Do(t, chromedp.EmulateViewport(scr.w, scr.h))
			b.NoSideScroll(t)
			b.Shoot(t, "old_"+name+"_"+scr.name)
		}
		require.Contains(t, text(t, get(t, h, dayPages[name])), "No new readings: values are 14 s old", name)
		late.Store(0)
		b.Wait(t, `document.getElementById("lost").hidden`)
	}
	late.Store(int64(14 * time.Second))
	require.NotContains(t, text(t, get(t, h, "/handbook")), "No new readings", "it shows none")
	require.Empty(t, b.Problems())
}

// A page that came back from a form has the form's address; it goes on by its
// own, and takes nothing by being looked at.
func TestRenewedPagesHaveTheirOwnAddress(t *testing.T) {
	d := newDay(t)
	h := d.handler(steady())
	require.NoError(t, d.cal.Begin(frame.InletPressure, "Ada"))
	refused := text(t, form(h, dayPages["calibration"]+"/take", "mark", "m", "reference", "nonsense"))
	require.Contains(t, refused, `data-here="/calibration/inlet_pressure"`)
	page := text(t, get(t, h, "/start/supply?take=static&pressure=nonsense"))
	require.Contains(t, page, `data-here="/start/supply?pressure=nonsense"`)
	require.NotContains(t, text(t, get(t, h, "/handbook")), "data-here")
}
