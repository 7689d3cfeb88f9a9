package dashboard

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/dashboard/webtest"
	"headroom/rules/frame"
	"headroom/sensors/calibrate"
)

var screens = []struct {
	name string
	w, h int64
}{{"phone", 360, 640}, {"laptop", 1280, 800}, {"small", 320, 568}, {"tablet", 768, 1024}, {"sideways", 640, 360}}

func TestBrowserLayout(t *testing.T) {
	b := webtest.New(t)
	for name, sc := range scenes() {
		srv := httptest.NewServer(newServer(testOptions(), sc.feed()).handler())
		t.Cleanup(srv.Close)
		t.Cleanup(srv.CloseClientConnections)
		for _, scr := range screens {
			t.Run(name+" "+scr.name, func(t *testing.T) {
				b.Open(t, scr.w, scr.h, srv.URL)
				b.NoSideScroll(t)
				require.False(t, webtest.Ask[bool](t, b, `(() => { const h = document.querySelector("h1"); return h.scrollWidth > h.clientWidth || h.scrollHeight > h.clientHeight + 2; })()`), "the machine's name is cut")
				b.Targets(t)
				b.Letters(t)
				answerInView(t, b, scr.h) // before a picture, which lays the page out anew
				b.Axe(t)
				b.Shoot(t, name+"_"+scr.name)
			})
		}
	}
	plainPages(t, b)
	for _, u := range b.Asked() {
		p, err := url.Parse(u)
		require.NoError(t, err)
		require.Equal(t, "127.0.0.1", p.Hostname(), "the page asked for something elsewhere")
	}
	require.Empty(t, b.Problems())
}

// plainPages checks the pages without a stream, and the page in US units.
func plainPages(t *testing.T, b *webtest.Browser) {
	t.Helper()
	d := newDay(t)
	srv := httptest.NewServer(newServer(d.opt, starving().feed()).handler())
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	check := func(name, path string) {
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
	for name, path := range dayPages {
		check(name, path)
	}
	ch := frame.InletPressure
	path := dayPages["calibration"]
	require.NoError(t, d.cal.Begin(ch, "Ada"))
	check("calibration_method", path)
	require.NoError(t, d.cal.Next(ch, "m", calibrate.Choose{Method: calibrate.TwoPoint}))
	check("calibration_waits", path)
	d.cal.steady(ch, 2e3)
	require.NoError(t, d.cal.Next(ch, "m", calibrate.Take{Reference: 0}))
	d.cal.steady(ch, 402e3)
	check("calibration_take", path)
	require.NoError(t, d.cal.Next(ch, "m", calibrate.Take{Reference: 404e3}))
	check("calibration_review", path)
	require.NoError(t, d.cal.Next(ch, "m", calibrate.Confirm{Who: "Ada", Instrument: "test gauge", Date: noon, ValidDays: 365}))
	check("calibration_done", path)
}

// answerInView checks that what must be seen at once needs no scrolling, and
// that no button lies over it: all of the answer on an upright phone, and on one
// held sideways what it is, what to do and what nobody sees.
func answerInView(t *testing.T, b *webtest.Browser, height int64) {
	t.Helper()
	must := ".answer .coverage"
	switch {
	case height < 400:
		must = ".answer .word, .answer .blind, .answer .title, .answer .do"
	case height < 640:
		return // the small phone scrolls
	}
	under := webtest.Ask[[]string](t, b, `(() => { const bar = document.querySelector(".thumb").getBoundingClientRect();
		return [...document.querySelectorAll("`+must+`")].map(e => [e, e.getBoundingClientRect()])
			.filter(([e, r]) => r.bottom > innerHeight || bar.width && r.bottom > bar.top && r.right > bar.left).map(([e, r]) => e.className + " ends at " + r.bottom + ", the bar begins at " + bar.top); })()`)
	require.Empty(t, under, "the answer does not fit the first screen")
}

func TestBrowserLive(t *testing.T) {
	b := webtest.New(t)
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

	b.Open(t, 360, 640, srv.URL)
	seq := webtest.Ask[string](t, b, `document.body.dataset.seq`)
	b.Wait(t, `document.body.dataset.seq !== "`+seq+`"`)
	require.Empty(t, webtest.Ask[string](t, b, `document.documentElement.className + document.getElementById("lost").textContent`))

	stampLoss(t, b)
	srv.Listener.Close()
	srv.CloseClientConnections()
	saidInTime(t, b, "a server that stopped")
	b.Wait(t, `document.getElementById("lost").textContent.includes("Connection lost")`)
	require.Equal(t, "line-through", webtest.Ask[string](t, b, `getComputedStyle(document.querySelector(".big .value")).textDecorationLine`))
	for _, grey := range []string{"main", ".state"} {
		require.Equal(t, "grayscale(1)", webtest.Ask[string](t, b, `getComputedStyle(document.querySelector("`+grey+`")).filter`), "old colours pass for now in %s", grey)
	}
	b.Shoot(t, "lost_phone")
}

// TestBrowserComesBack stops the readings and then the connection, and looks
// for the full state afterwards.
func TestBrowserComesBack(t *testing.T) {
	b := webtest.New(t)
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
	b.Open(t, 360, 640, srv.URL)
	b.Wait(t, `document.getElementById("lost").textContent.includes("No new readings")`)
	down.Store("down", true)
	srv.CloseClientConnections()
	b.Wait(t, `document.getElementById("lost").textContent.includes("Connection lost")`)
	// What happened meanwhile must be on the page before it says that it lives.
	worse := starving()
	worse.snap.Seq += 50
	feed.Publish(&worse.snap)
	down.Delete("down")
	b.Wait(t, webtest.IsLive)
	require.Contains(t, webtest.Ask[string](t, b, `document.querySelector(".answer .word").textContent`), "Act now")
}
