package dashboard

import (
	"encoding/json"
	"math"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/daemon/snapshot"
	"headroom/dashboard/webtest"
	"headroom/rules/frame"
	"headroom/rules/units"
)

type trendAnswer struct {
	Now    float64 `json:"now_s"`
	Window float64 `json:"window_s"`
	Charts []struct {
		Channel, Unit string
		Limits        []struct{ Y float64 }
		Marks         []struct{ Label string }
		Runs          []struct {
			From  float64 `json:"from_s"`
			To    float64 `json:"to_s"`
			Bands [][3]float64
		}
	}
}

func trendOf(t *testing.T, h http.Handler, query string) (a trendAnswer) {
	t.Helper()
	require.NoError(t, json.Unmarshal([]byte(text(t, get(t, h, "/api/v1/trend?"+query))), &a))
	return a
}

// Every good reading of the window lies in a band, in either system of units.
func TestTrendHoldsEveryReading(t *testing.T) {
	sc := starving()
	feed := sc.feed()
	h := newServer(testOptions(), feed).handler()
	for _, sys := range []units.System{units.SI, units.US} {
		a := trendOf(t, h, "units="+sys.String())
		require.Equal(t, 300.0, a.Window)
		require.Equal(t, sc.snap.Mono.Seconds(), a.Now)
		require.Len(t, a.Charts, 5)
		c := a.Charts[0]
		require.Equal(t, "inlet_pressure", c.Channel)
		require.Len(t, c.Marks, 2, "both alarms of the inlet, and not the flow's")
		u := units.For(units.Pressure, sys)
		require.Equal(t, u.Symbol, c.Unit)
		width := a.Window / 240
		for _, p := range feed.Points(shortWindow) {
			y, found := u.FromSI(p.Samples[frame.InletPressure].Value), false
			for _, run := range c.Runs {
				for _, b := range run.Bands {
					found = found || math.Abs(b[0]-p.Mono.Seconds()) <= width/2+1e-3 && b[1]-0.01 <= y && y <= b[2]+0.01
				}
			}
			require.True(t, found, "%s: the reading %v at %v is in no band", sys, y, p.Mono)
		}
	}
	require.Equal(t, 600.0, trendOf(t, h, "window=10").Window)
	resp := get(t, newServer(testOptions(), &fakeFeed{Store: snapshot.NewStore()}).handler(), "/api/v1/trend")
	require.Equal(t, http.StatusServiceUnavailable, resp.StatusCode)
}

// pageTicks opens the page's stream and returns its next tick.
func pageTicks(t *testing.T, m *liveMachine) (next func() (regions map[string]string, tick *trendTick), leave func()) {
	opt := m.options()
	opt.Now = func() time.Time { return noon }
	message, leave := listen(t, New(opt), "/api/v1/stream?view=page", "")
	return func() (map[string]string, *trendTick) {
		for {
			m := message()
			if m.event != "tick" {
				continue
			}
			var v struct {
				Regions map[string]string
				Trend   *trendTick
			}
			require.NoError(t, json.Unmarshal([]byte(m.data), &v))
			return v.Regions, v.Trend
		}
	}, leave
}

// A spike between two ticks of the stream is told, and so is a reading that was
// not good; an alarm that comes up gets its mark once.
func TestStreamBringsWhatTheChartsGoOnWith(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newLiveMachine(t, liveConfig())
		next, leave := pageTicks(t, m)
		defer leave()
		regions, tick := next()
		require.Contains(t, regions["charts"], `data-key="inlet_pressure"`)
		require.Nil(t, tick, "the first tick has the charts whole")

		m.set(frame.InletPressure, 90e3)
		m.tick(noon)
		m.set(frame.InletPressure, 250e3)
		m.tick(noon)
		regions, tick = next()
		require.NotContains(t, regions, "charts")
		require.Equal(t, []any{90.0, 250.0}, tick.Bands["inlet_pressure"])
		require.Contains(t, tick.Bands, "motor_current")
		require.NotContains(t, tick.Bands, "water_temperature", "it isn't fitted")

		m.mu.Lock()
		m.f.Samples[frame.InletPressure].Status = frame.Failed
		m.mu.Unlock()
		m.tick(noon)
		m.set(frame.InletPressure, 250e3)
		m.tick(noon)
		_, tick = next()
		require.Contains(t, tick.Bands, "inlet_pressure")
		require.Nil(t, tick.Bands["inlet_pressure"])

		marks := 0
		m.set(frame.InletPressure, 10e3)
		for range 20 {
			m.tick(noon)
			_, tick = next()
			marks += len(tick.Marks["inlet_pressure"])
		}
		require.Equal(t, 2, marks, "warning and act, once each")
	})
}

// What the document promises of a tick's trend and of the charts is answered.
func (w *walker) trend() {
	w.get(newServer(testOptions(), starving().feed()).handler(), "/api/v1/trend", "/api/v1/trend")
	w.get(newServer(testOptions(), &fakeFeed{Store: snapshot.NewStore()}).handler(), "/api/v1/trend", "/api/v1/trend")
	m := newLiveMachine(w.t, liveConfig())
	message, leave := listen(w.t, New(m.options()), "/api/v1/stream?view=page", "")
	defer leave()
	message()
	for marked := false; !marked; {
		m.set(frame.InletPressure, 10e3)
		m.tick(noon)
		msg := message()
		if msg.event != "tick" {
			continue
		}
		var v any
		require.NoError(w.t, json.Unmarshal([]byte(msg.data), &v))
		w.check(&schema{Ref: "#/components/schemas/PageTick"}, "", v, "stream")
		marked = strings.Contains(msg.data, `"marks"`)
	}
}

// The page draws its charts itself from the first seconds on, goes on drawing,
// and gets the whole anew after a gap.
func TestBrowserDrawsTheTrend(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	opt := m.options()
	opt.Now = nil
	srv := httptest.NewServer(New(opt))
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	m.run(t)
	b := webtest.New(t)
	b.Open(t, 1280, 1600, srv.URL)
	b.Wait(t, `document.querySelectorAll("figure canvas").length === 4 && !document.querySelector("figure svg")`)
	fetches := func() int {
		n := 0
		for _, u := range b.Asked() {
			if strings.Contains(u, "/api/v1/trend") {
				n++
			}
		}
		return n
	}
	require.Equal(t, 1, fetches())
	require.Equal(t, "Inlet pressure of the last 5 min, kPa", webtest.Ask[string](t, b, `document.querySelector("figure canvas").getAttribute("aria-label")`))
	// The newest pixel column moves with the readings: dark where the value is.
	dark := `(() => { const c = document.querySelector('figure[data-key="inlet_pressure"] canvas'), d = c.getContext("2d").getImageData(c.width - 4, 20, 2, 110).data; const at = [];
		for (let y = 0; y < 110; y++) if (d[8 * y] < 60 && d[8 * y + 3] > 200) at.push(y); return at.length ? at.reduce((a, v) => a + v) / at.length : -1; })()`
	b.Wait(t, dark+" > 0")
	high := webtest.Ask[float64](t, b, dark)
	m.set(frame.InletPressure, 30e3)
	b.Wait(t, dark+` > `+strconv.FormatFloat(high+15, 'f', 1, 64))
	require.Equal(t, 1, fetches(), "it goes on from the stream alone")
	b.Shoot(t, "trend_laptop")

	srv.CloseClientConnections()
	b.Wait(t, `document.getElementById("link").textContent !== "Live"`)
	b.Wait(t, webtest.IsLive)
	b.Wait(t, `document.querySelectorAll("figure canvas").length === 4`)
	require.Equal(t, 2, fetches(), "the gap is filled")
	require.Empty(t, b.Problems())
}

// A fetch of the charts that hangs is given up and tried again; meanwhile no
// picture that stands still says that it is of now, and charts that are drawn
// already go on.
func TestBrowserDoesNotWaitForTheTrend(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	opt := m.options()
	opt.Now = nil
	h := New(opt)
	var hang atomic.Bool
	var asked atomic.Int32
	hang.Store(true)
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/api/v1/trend" {
			asked.Add(1)
			if hang.Load() {
				<-r.Context().Done()
				return
			}
		}
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	m.run(t)
	b := webtest.New(t)
	_, err := chromedp.Call(b.Ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `window.patience = []; const after = AbortSignal.timeout.bind(AbortSignal); AbortSignal.timeout = (ms) => { window.patience.push(ms); return after(ms / 4); };`})
	require.NoError(t, err)
	b.Open(t, 1280, 1600, srv.URL)
	edge := `[...document.querySelectorAll("figure svg text")].map((e) => e.textContent)`
	require.Contains(t, webtest.Ask[[]string](t, b, edge), "now")
	b.Wait(t, edge+`.filter((s) => /^[0-9]+ s ago$/.test(s)).length === 4`)
	require.NotContains(t, webtest.Ask[[]string](t, b, edge), "now")
	b.Shoot(t, "trend_hangs_laptop")
	b.Do(t, chromedp.EmulateViewport(360, 640))
	b.NoSideScroll(t)
	b.Shoot(t, "trend_hangs_phone")
	require.Eventually(t, func() bool { return asked.Load() > 1 }, 15*time.Second, 20*time.Millisecond, "tried again")
	require.Equal(t, 10000.0, webtest.Ask[float64](t, b, `window.patience[0]`))
	hang.Store(false)
	b.Wait(t, `document.querySelectorAll("figure canvas").length === 4 && !document.querySelector("figure svg")`)
	require.Empty(t, b.Problems())
}
