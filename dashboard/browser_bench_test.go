package dashboard

import (
	"net/http/httptest"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/daemon/bench"
	"headroom/daemon/bench/rig"
	"headroom/dashboard/webtest"
)

// A test that was cut off says so on every screen, and goes on at one press.
func TestBrowserBenchThatWaits(t *testing.T) {
	f, s, at := haltedBench(t)
	srv := httptest.NewServer(s.handler())
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	b := webtest.New(t)
	for name, path := range map[string]string{"waits": at, "waits_list": "/bench", "waits_results": at + "/results"} {
		for _, scr := range screens {
			t.Run(name+" "+scr.name, func(t *testing.T) {
				b.Do(t, chromedp.EmulateViewport(scr.w, scr.h), chromedp.Navigate(srv.URL+path))
				b.NoSideScroll(t)
				b.Targets(t)
				b.Letters(t)
				b.Shoot(t, "bench_"+name+"_"+scr.name)
				b.Axe(t)
			})
		}
	}
	b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(srv.URL+at), chromedp.WaitVisible(`form[action$="/resume"] button`), chromedp.Click(`form[action$="/resume"] button`), chromedp.WaitVisible("#collected"))
	require.False(t, f.session.Halted())
	require.Empty(t, b.Problems())
}

// A limit that the plate can't give is seen among the others, on every screen.
func TestBrowserBenchLimitThatThePlateLacks(t *testing.T) {
	f := newFakeBench(t)
	r := benchRecord(t, rig.New, 1, noon)
	r.Source, r.Pump.ReliefPa, r.Pump.MotorA = bench.OwnSensors, 0, 0
	lib, _, err := f.Library()
	require.NoError(t, err)
	r.Limits = lib.Limits(r.Pump)
	require.NoError(t, f.store.Save(r))
	srv := httptest.NewServer(benchServer(f).handler())
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	b := webtest.New(t)
	for _, scr := range screens {
		t.Run(scr.name, func(t *testing.T) {
			b.Do(t, chromedp.EmulateViewport(scr.w, scr.h), chromedp.Navigate(srv.URL+benchPath(r.ID)), chromedp.WaitVisible(".answer"))
			require.Equal(t, "Not shown", webtest.Ask[string](t, b, `document.querySelector(".answer .word span").textContent`))
			b.NoSideScroll(t)
			b.Letters(t)
			b.Shoot(t, "bench_lacks_"+scr.name)
			b.Axe(t)
		})
	}
	require.Empty(t, b.Problems())
}
