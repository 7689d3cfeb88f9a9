package dashboard

import (
	"context"
	"net"
	"net/http"
	"net/http/httptest"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/dashboard/webtest"
	"headroom/rules/alarm"
	"headroom/rules/engine"
)

// badLink is a wire between the phone and the board that can be held up and
// cut.
type badLink struct {
	to    string
	held  atomic.Bool
	mu    sync.Mutex
	conns []net.Conn
}

// newBadLink returns the address to connect to.
func newBadLink(t *testing.T, to string) (*badLink, string) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	b := &badLink{to: to}
	t.Cleanup(func() { l.Close(); b.cut() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go b.carry(c)
		}
	}()
	return b, "http://" + l.Addr().String()
}

func (b *badLink) carry(c net.Conn) {
	s, err := net.Dial("tcp", b.to)
	if err != nil {
		c.Close()
		return
	}
	b.mu.Lock()
	b.conns = append(b.conns, c, s)
	b.mu.Unlock()
	go b.copy(s, c)
	b.copy(c, s)
}

func (b *badLink) copy(to, from net.Conn) {
	defer to.Close()
	buf := make([]byte, 4096)
	for {
		n, err := from.Read(buf)
		for b.held.Load() {
			time.Sleep(10 * time.Millisecond)
		}
		if _, werr := to.Write(buf[:n]); err != nil || werr != nil {
			return
		}
	}
}

func (b *badLink) cut() {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, c := range b.conns {
		c.Close()
	}
	b.conns = nil
}

// A link that stands still, and one that is cut again and again, are said
// within two seconds; what happened meanwhile is on the page afterwards.
func TestBrowserOnABadLink(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	opt := m.options()
	opt.Now = nil
	srv := httptest.NewServer(New(opt))
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	m.run(t)
	link, url := newBadLink(t, srv.Listener.Addr().String())
	b := webtest.New(t)
	b.Open(t, 360, 640, url)
	webtest.Ask[int](t, b, `window.heldAt = performance.now(); 0`)
	link.held.Store(true)
	b.Wait(t, `!document.getElementById("lost").hidden`)
	took := webtest.Ask[float64](t, b, `performance.now() - window.heldAt`)
	t.Logf("a link that stands still is said after %.0f ms", took)
	require.Less(t, took, 2000.0)
	starve(m)
	untilPhase(t, m, lowAct, alarm.Unacknowledged)
	link.held.Store(false)
	b.Wait(t, webtest.IsLive)
	b.Wait(t, `document.querySelector(".answer .word").textContent.includes("Act now")`)
	for range 4 {
		link.cut()
		b.Wait(t, `document.getElementById("link").textContent !== "Live"`)
		b.Wait(t, webtest.IsLive)
	}
	require.Empty(t, b.Problems())
}

// A slow link with long ways: still live, and usable.
func TestBrowserOnASlowLink(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	b := webtest.New(t)
	url := serveLive(t, m)
	_, err := chromedp.Call(b.Ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
		MatchedNetworkConditions: []*network.Conditions{{URLPattern: "", Latency: 400, DownloadThroughput: 50_000, UploadThroughput: 20_000}},
	})
	require.NoError(t, err)
	b.Open(t, 360, 640, url)
	way := webtest.Ask[float64](t, b, `(async () => { const t = performance.now(); await fetch("/-/healthy"); return performance.now() - t; })()`)
	require.Greater(t, way, 350.0, "the link is slow")
	webtest.Ask[int](t, b, `window.lostFor = 0; setInterval(() => { if (!document.getElementById("lost").hidden) window.lostFor++; }, 100); 0`)
	starve(m)
	b.Wait(t, `document.querySelector(".thumb button")`)
	b.SteadyNow()
	webtest.Ask[int](t, b, `document.querySelector(".thumb button").click(); 0`)
	untilPhase(t, m, lowAct, alarm.Acknowledged)
	time.Sleep(3 * time.Second)
	require.LessOrEqual(t, webtest.Ask[float64](t, b, `window.lostFor`), 5.0, "400 ms of delay are no lost connection")
}

// What one phone does the other shows.
func TestTwoPhones(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	url := serveLive(t, m)
	one, two := webtest.New(t), webtest.New(t)
	one.Open(t, 360, 640, url)
	two.Open(t, 360, 640, url)
	starve(m)
	for _, b := range []*webtest.Browser{one, two} {
		b.Wait(t, `document.querySelector(".thumb button")`)
	}
	one.SteadyNow()
	webtest.Ask[int](t, one, `document.querySelector(".thumb button").click(); 0`)
	untilPhase(t, m, lowAct, alarm.Acknowledged)
	began := time.Now()
	two.Wait(t, `!document.querySelector(".thumb button")`)
	t.Logf("the second phone knew after %v", time.Since(began))
	require.Less(t, time.Since(began), 3*time.Second)
	// The second one's tap comes too late, and is told so in words.
	require.Equal(t, 409.0, webtest.Ask[float64](t, two, `fetch("/alarms/inlet_low.act/acknowledge", {method: "POST", headers: {Accept: "application/json"}}).then(r => r.status)`))
}

// A phone whose clock is a year ahead, or stood still, shows the machine's time
// and doesn't take fresh for old.
func TestClockOfThePhoneDoesNotMatter(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	url := serveLive(t, m)
	for _, skew := range []string{"Date.now = () => real() + 365 * 864e5", "Date.now = () => 0"} {
		b := webtest.New(t)
		script := `(() => { const real = Date.now.bind(Date); ` + skew + `; const D = Date; window.Date = class extends D { constructor(...a) { super(...(a.length ? a : [D.now()])); } }; })()`
		_, err := chromedp.Call(b.Ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
		require.NoError(t, err)
		b.Open(t, 360, 640, url)
		time.Sleep(2 * time.Second)
		require.True(t, webtest.Ask[bool](t, b, `document.getElementById("lost").hidden && `+webtest.IsLive))
		shown := webtest.Ask[string](t, b, `document.querySelector(".clock .value").textContent`)
		at, err := time.Parse("15:04:05", shown)
		require.NoError(t, err)
		now := time.Now()
		require.InDelta(t, now.Hour()*3600+now.Minute()*60+now.Second(), at.Hour()*3600+at.Minute()*60+at.Second(), 5)
		require.Empty(t, b.Problems())
	}
}

// One stream a tab, closed while the tab is hidden, and the gap is filled on
// return with what came meanwhile.
func TestStreamIsClosedWhileHidden(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	opt := m.options()
	opt.Now = nil
	var open, most atomic.Int32
	h := New(opt)
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/api/v1/stream" {
			most.Store(max(most.Load(), open.Add(1)))
			defer open.Add(-1)
		}
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	m.run(t)
	b := webtest.New(t)
	b.Open(t, 360, 640, srv.URL)
	require.EqualValues(t, 1, open.Load())
	hide := func(hidden string) {
		webtest.Ask[int](t, b, `Object.defineProperty(document, "hidden", {value: `+hidden+`, configurable: true}); document.dispatchEvent(new Event("visibilitychange")); 0`)
	}
	hide("true")
	require.Eventually(t, func() bool { return open.Load() == 0 }, 5*time.Second, 20*time.Millisecond)
	starve(m)
	untilPhase(t, m, lowAct, alarm.Unacknowledged)
	hide("false")
	b.Wait(t, `document.getElementById("say-act").textContent.includes("Pump is starving")`)
	b.Wait(t, webtest.IsLive+` && document.querySelector(".answer .word").textContent.includes("Act now")`)
	require.EqualValues(t, 1, open.Load())
	require.EqualValues(t, 1, most.Load(), "never two at once")
	require.Empty(t, b.Problems())
}

// What can't arrive can't be pressed: with old values an act is refused by the
// page itself, and taken again once the page lives.
func TestBrowserRefusesActsWhileLost(t *testing.T) {
	b := webtest.New(t)
	sc := starving()
	feed := sc.feed()
	opt := testOptions()
	opt.Acts = func(context.Context, ActRequest) (engine.Did, error) { return engine.Did{}, nil }
	srv := httptest.NewServer(newServer(opt, feed).handler())
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	b.Open(t, 360, 640, srv.URL)
	buttons := `[...document.querySelectorAll("form[data-act] button")]`
	b.Wait(t, `!document.getElementById("lost").hidden`)
	require.True(t, webtest.Ask[bool](t, b, buttons+`.length > 2 && `+buttons+`.every((b) => b.disabled)`))
	b.Shoot(t, "lost_alarm_phone")
	next := sc.snap
	next.Seq++
	feed.Publish(&next)
	b.Wait(t, webtest.IsLive+" && "+buttons+`.every((b) => !b.disabled)`)
}

// A page that outlives the program that wrote it loads itself anew, once the new
// program can be reached; one that sounds says so instead, since sound needs a
// tap after that.
func TestBrowserRenewsAPageOfAnOlderProgram(t *testing.T) {
	for _, sounds := range []bool{false, true} {
		m := newLiveMachine(t, liveConfig())
		opt := m.options()
		opt.Now = nil
		older := New(opt)
		opt.Version += "-next"
		newer := New(opt)
		var serve atomic.Pointer[http.Handler]
		serve.Store(&older)
		srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { (*serve.Load()).ServeHTTP(w, r) }))
		t.Cleanup(srv.Close)
		t.Cleanup(srv.CloseClientConnections)
		m.run(t)
		b := webtest.New(t)
		b.Open(t, 360, 640, srv.URL)
		foot := `document.querySelector("footer").textContent`
		if sounds {
			b.Do(t, chromedp.Click("#sound-switch"))
			b.Wait(t, `document.getElementById("sound-says").textContent.startsWith("Sound on")`)
		}
		webtest.Ask[int](t, b, `window.stayed = true; 0`)
		srv.CloseClientConnections()
		b.Wait(t, webtest.IsLive)
		require.True(t, webtest.Ask[bool](t, b, `window.stayed === true`), "the same program again is no reason")
		serve.Store(&newer)
		srv.CloseClientConnections()
		if sounds {
			b.Wait(t, `document.getElementById("told").textContent.includes("The program on the machine was renewed")`)
			b.Shoot(t, "renewed_program_phone")
			require.True(t, webtest.Ask[bool](t, b, `window.stayed === true`))
			continue
		}
		until(t, b, `window.stayed !== true && `+foot+`.includes("-next") && `+webtest.IsLive)
		require.Empty(t, b.Problems())
	}
}

// The same version with other scripts would be another program; the same one is
// the same at each start.
func TestBuildNamesTheProgram(t *testing.T) {
	require.Equal(t, buildOf("1.0"), buildOf("1.0"))
	require.NotEqual(t, buildOf("1.0"), buildOf("1.1"))
}
