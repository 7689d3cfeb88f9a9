package dashboard

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/dashboard/webtest"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// serveLive serves a live machine whose clock runs, and opens its page.
func serveLive(t *testing.T, m *liveMachine) string {
	opt := m.options()
	opt.Now, opt.Units = nil, units.SI
	srv := httptest.NewServer(New(opt))
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	m.run(t)
	return srv.URL
}

func untilPhase(t *testing.T, m *liveMachine, a engine.AlarmID, p alarm.Phase) {
	t.Helper()
	require.Eventually(t, func() bool { return m.phase(a) == p }, 20*time.Second, 20*time.Millisecond, "phase %s, want %s", m.phase(a), p)
}

const row = `[data-key="inlet_low.act"]`

func starve(m *liveMachine) {
	m.set(frame.InletPressure, 5e3)
	m.set(frame.Flow, 5e-3/60)
}

func mend(m *liveMachine) {
	m.set(frame.InletPressure, 250e3)
	m.set(frame.Flow, 7.6e-3/60)
}

func TestBrowserAcknowledgesWithOneTap(t *testing.T) {
	cfg := liveConfig()
	cfg.Rules[engine.InletLow].Latch = true
	m := newLiveMachine(t, cfg)
	b := webtest.New(t)
	b.Open(t, 360, 640, serveLive(t, m))
	b.Touch(t)
	require.Equal(t, "none", webtest.Ask[string](t, b, `getComputedStyle(document.querySelector(".thumb")).display`))
	starve(m)
	b.Wait(t, `document.querySelector(".answer .word").textContent.includes("Act now") && document.querySelector(".thumb button")`)
	b.SteadyNow()
	require.True(t, webtest.Ask[bool](t, b, `(() => { const r = document.querySelector(".thumb button").getBoundingClientRect(); return r.height >= 64 && r.width >= 320 && r.bottom <= innerHeight; })()`))
	require.Equal(t, "call", webtest.Ask[string](t, b, `getComputedStyle(document.querySelector('`+row+`'), "::before").animationName`))
	b.Shoot(t, "flow_1_calling")

	// A button is still the same one after ticks have passed.
	webtest.Ask[int](t, b, `window.held = document.querySelector(".thumb button"); window.seq = +document.body.dataset.seq; 0`)
	b.Wait(t, `+document.body.dataset.seq > window.seq + 15`)
	require.True(t, webtest.Ask[bool](t, b, `window.held.isConnected && window.held === document.querySelector(".thumb button")`))

	b.Do(t, chromedp.TapXY(180, 596))
	untilPhase(t, m, lowAct, alarm.Acknowledged)
	b.Wait(t, `document.querySelector('`+row+` .phase').textContent === "acknowledged"`)
	b.Wait(t, `document.getElementById("told").textContent === "Pump is starving: acknowledged."`)
	b.Wait(t, `getComputedStyle(document.querySelector(".thumb")).display === "none"`)
	require.Equal(t, "none", webtest.Ask[string](t, b, `getComputedStyle(document.querySelector('`+row+`'), "::before").animationName`), "only what calls flashes")
	require.Contains(t, webtest.Ask[string](t, b, `document.querySelector(".answer .word").textContent`), "Act now", "acknowledging hides nothing")
	b.Wait(t, `document.querySelector(".events").textContent.includes("acknowledged")`)
	b.Shoot(t, "flow_2_acknowledged")

	mend(m)
	untilPhase(t, m, lowAct, alarm.LatchedAcknowledged)
	b.Wait(t, `document.querySelector('`+row+` [data-key="reset"] button')`)
	b.Wait(t, `document.querySelector(".answer .word").textContent.includes("Waits for its reset")`)
	b.Wait(t, `document.querySelector(".thumb .resets summary")`)
	b.Shoot(t, "flow_3_latched")
	// A reset takes two steps, and two taps at one place are none: the fold opens
	// and shuts. Source: the project's list of requirements, two steps and the verb.
	b.SteadyNow()
	b.Do(t, chromedp.TapXY(180, 596))
	b.Wait(t, `document.querySelector(".thumb .resets").open`)
	b.Targets(t)
	b.NoSideScroll(t)
	b.Shoot(t, "flow_3_resetting")
	require.True(t, webtest.Ask[bool](t, b, `(() => { const r = document.querySelector(".thumb .resets button").getBoundingClientRect(); return r.height >= 64 && r.width >= 320 && r.top >= 0 && r.bottom <= document.querySelector(".thumb .resets summary").getBoundingClientRect().top - 8; })()`))
	require.Equal(t, "Reset this alarm", webtest.Ask[string](t, b, `document.querySelector(".thumb .resets button").textContent`))
	b.Do(t, chromedp.TapXY(180, 596))
	b.Wait(t, `!document.querySelector(".thumb .resets").open`)
	require.Equal(t, alarm.LatchedAcknowledged, m.phase(lowAct))
	b.Do(t, chromedp.TapXY(180, 596))
	b.Wait(t, `document.querySelector(".thumb .resets").open`)
	b.SteadyNow()
	b.Tap(t, `.thumb .resets button`)
	untilPhase(t, m, lowAct, alarm.Normal)
	b.Wait(t, `document.querySelector(".answer .word").textContent.includes("All limits have room")`)
	b.Wait(t, `!document.querySelector('`+row+`')`)
	require.Empty(t, b.Problems())
}

func TestBrowserShelvesInTwoSteps(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	b := webtest.New(t)
	b.Open(t, 360, 640, serveLive(t, m))
	b.Touch(t)
	starve(m)
	b.Wait(t, `document.querySelector('`+row+` summary')`)
	b.SteadyNow()
	require.False(t, webtest.Ask[bool](t, b, `document.querySelector('`+row+` [name="shelf"]').checkVisibility()`), "one tap does not shelve")
	b.Tap(t, row+` .shelf summary`)
	b.Wait(t, `document.querySelector('`+row+` .shelf').open`)
	// The fold stays open while the page goes on.
	webtest.Ask[int](t, b, `window.seq = +document.body.dataset.seq; 0`)
	b.Wait(t, `+document.body.dataset.seq > window.seq + 15`)
	require.True(t, webtest.Ask[bool](t, b, `document.querySelector('`+row+` .shelf').open`))
	b.NoSideScroll(t)
	b.Targets(t)
	b.Shoot(t, "flow_4_shelving")
	require.Equal(t, alarm.Unacknowledged, m.phase(lowAct))
	b.Tap(t, row+` [name="shelf"][value="1h"]`)
	untilPhase(t, m, lowAct, alarm.Shelved)
	b.Wait(t, `document.querySelector('`+row+` .phase').textContent.startsWith("shelved until")`)
	b.SteadyNow()
	b.Tap(t, row+` [data-key="unshelve"] button`)
	untilPhase(t, m, lowAct, alarm.Unacknowledged)

	// What cannot be done is said, and why.
	b.Wait(t, `document.querySelector('`+row+` [data-key="acknowledge"]')`)
	b.SteadyNow()
	webtest.Ask[int](t, b, `document.addEventListener("submit", e => { e.target.action = "/alarms/inlet_low.act/reset"; }, {capture: true, once: true}); 0`)
	b.Tap(t, row+` [data-key="acknowledge"] button`)
	b.Wait(t, `document.getElementById("told").textContent.includes("its condition still stands")`)
	require.Equal(t, "alert", webtest.Ask[string](t, b, `document.getElementById("told").getAttribute("role")`))
	b.Shoot(t, "flow_5_refused")
	require.Empty(t, b.Problems())
}

// TestBrowserIgnoresATapOnWhatJustMoved: a button that came under the thumb a
// moment ago is not the one that was meant.
func TestBrowserIgnoresATapOnWhatJustMoved(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	b := webtest.New(t)
	b.Open(t, 360, 640, serveLive(t, m))
	webtest.Ask[int](t, b, `new MutationObserver((_, o) => { const e = document.querySelector(".thumb button"); if (!e) return; o.disconnect(); e.click(); window.tapped = true; }).observe(document.querySelector(".thumb"), {childList: true, subtree: true}); 0`)
	starve(m)
	b.Wait(t, `window.tapped`)
	time.Sleep(300 * time.Millisecond)
	require.Equal(t, alarm.Unacknowledged, m.phase(lowAct))
	require.Contains(t, webtest.Ask[string](t, b, `document.getElementById("told").textContent`), "the page had just moved")
	b.SteadyNow()
	// The second of two quick taps hides nothing of what the first did: it comes
	// at the very moment at which the answer is shown.
	webtest.Ask[int](t, b, `const told = document.getElementById("told"); new MutationObserver((_, o) => { o.disconnect(); setTimeout(() => { document.querySelector("form[data-act] button").click(); window.second = told.textContent; }); }).observe(told, {childList: true});
		document.querySelector(".thumb button").click(); 0`)
	untilPhase(t, m, lowAct, alarm.Acknowledged)
	b.Wait(t, `window.second === "Pump is starving: acknowledged."`)
	require.Equal(t, alarm.Acknowledged, m.phase(lowAct))
}

// A tap whose answer never comes is given up; until then every other one is
// told why it does nothing, and afterwards the buttons work again.
func TestBrowserGivesUpATapWithoutAnAnswer(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	opt := m.options()
	opt.Now = nil
	h := New(opt)
	var hold atomic.Bool
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost && hold.Load() {
			<-r.Context().Done()
			return
		}
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	m.run(t)
	b := webtest.New(t)
	b.Open(t, 360, 640, srv.URL)
	starve(m)
	b.Wait(t, `document.querySelector(".thumb button")`)
	b.SteadyNow()
	hold.Store(true)
	tap, told := `document.querySelector(".thumb button").click(); 0`, `document.getElementById("told").textContent`
	webtest.Ask[int](t, b, `window.patience = []; const after = AbortSignal.timeout.bind(AbortSignal); AbortSignal.timeout = (ms) => { window.patience.push(ms); return after(ms / 4); }; 0`)
	webtest.Ask[int](t, b, tap)
	webtest.Ask[int](t, b, tap)
	require.Contains(t, webtest.Ask[string](t, b, told), "the tap before is still on its way")
	b.Shoot(t, "flow_9_on_its_way")
	b.Wait(t, told+`.includes("No answer came")`)
	require.Equal(t, []float64{8000}, webtest.Ask[[]float64](t, b, `window.patience`), "one try, and longer than the machine takes for an answer")
	b.Shoot(t, "flow_10_no_answer")
	require.Equal(t, alarm.Unacknowledged, m.phase(lowAct))
	hold.Store(false)
	b.SteadyNow()
	webtest.Ask[int](t, b, tap)
	untilPhase(t, m, lowAct, alarm.Acknowledged)
	require.Empty(t, b.Problems())
}

func TestBrowserWithoutJavaScript(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	b := webtest.New(t)
	url := serveLive(t, m)
	starve(m)
	untilPhase(t, m, lowAct, alarm.Unacknowledged)
	ctx := b.Ctx
	_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	require.NoError(t, err)
	b.Do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(url))
	b.Shoot(t, "flow_6_no_script")
	b.Do(t, chromedp.TapXY(180, 596))
	untilPhase(t, m, lowAct, alarm.Acknowledged)
	b.GoTo(t, url+"/alarms/inlet_low.act")
	b.Shoot(t, "flow_7_alarm_page")
	b.Do(t, chromedp.Click(`button[value="15m"]`))
	untilPhase(t, m, lowAct, alarm.Shelved)
}

// hearTones notes in window.loud the pitch of every tone that reaches the speaker
// loud enough to be heard: what is silent is no beep, whatever was started.
func hearTones(t *testing.T, b *webtest.Browser) {
	t.Helper()
	webtest.Ask[int](t, b, `window.loud = []; window.shakes = []; {
		const peaks = new WeakMap(), to = new WeakMap(), ends = new WeakSet();
		for (const name of ["setValueAtTime", "linearRampToValueAtTime", "exponentialRampToValueAtTime"]) {
			const set = AudioParam.prototype[name];
			AudioParam.prototype[name] = function (v, t) { peaks.set(this, Math.max(peaks.get(this) ?? 0, v)); return set.call(this, v, t); };
		}
		const connect = AudioNode.prototype.connect;
		AudioNode.prototype.connect = function (n, ...rest) { to.set(this, n); return connect.call(this, n, ...rest); };
		const start = OscillatorNode.prototype.start;
		OscillatorNode.prototype.start = function (t) {
			let gain = 1, n = this;
			while (n && n !== this.context.destination) { if (n.gain) gain *= peaks.get(n.gain) ?? n.gain.value; n = to.get(n); }
			if (n && gain >= 0.1 && this.context.state === "running") window.loud.push(this.frequency.value);
			return start.call(this, t);
		};
		navigator.vibrate = (p) => { window.shakes.push(p); return true; };
	} 0`)
}

func TestBrowserSound(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	b := webtest.New(t)
	b.Open(t, 360, 640, serveLive(t, m))
	b.Touch(t)
	require.Contains(t, webtest.Ask[string](t, b, `document.getElementById("sound-says").textContent`), "Sound off in this browser")
	hearTones(t, b)
	starve(m)
	b.Wait(t, `document.querySelector(".thumb button")`)
	require.Empty(t, webtest.Ask[[]float64](t, b, `window.loud`), "no sound that nobody asked for")
	b.Tap(t, "#sound-switch")
	b.Wait(t, `document.getElementById("sound-says").textContent.startsWith("Sound on in this browser")`)
	require.Equal(t, "true", webtest.Ask[string](t, b, `document.getElementById("sound-switch").getAttribute("aria-pressed")`))
	b.Wait(t, `window.loud.filter(f => f === 988).length >= 6`)
	// Three beeps, three shakes with two pauses. Source: the pattern for "act" in
	// static/sound.js, which is common practice, no source.
	b.Wait(t, `window.shakes.some(p => p.length === 5 && p[0] >= 100)`)
	b.SteadyNow()
	webtest.Ask[int](t, b, `document.querySelector(".thumb button").click(); 0`)
	untilPhase(t, m, lowAct, alarm.Acknowledged)
	b.Wait(t, `!document.querySelector(".thumb button")`)
	webtest.Ask[int](t, b, `window.loud = []; 0`)
	time.Sleep(2500 * time.Millisecond)
	require.Empty(t, webtest.Ask[[]float64](t, b, `window.loud`), "quiet once acknowledged")
	b.Shoot(t, "flow_8_sound")
	b.Tap(t, "#sound-switch")
	b.Wait(t, `document.getElementById("sound-says").textContent === "Sound off in this browser."`)
	require.Empty(t, b.Problems())
}

// TestBrowserSaysThatTheScreenMayGoDark: by its name and over plain http the
// page is no secure context, and a browser has no wake lock there.
func TestBrowserSaysThatTheScreenMayGoDark(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	b := webtest.New(t)
	url := serveLive(t, m)
	b.Open(t, 360, 640, strings.Replace(url, "127.0.0.1", "trailer.local", 1))
	require.False(t, webtest.Ask[bool](t, b, `isSecureContext`))
	b.Do(t, chromedp.Click("#sound-switch"))
	b.Wait(t, `document.getElementById("sound-says").textContent.includes("can't keep the screen on over plain http")`)
	require.Empty(t, b.Problems())
}

// The page holds the browser's promise to keep the screen on, says when it is
// taken back, asks again when the page is looked at again, and gives it back with
// the sound. Headless, a browser grants none: the test grants it in its place.
func TestBrowserSaysWhetherTheScreenStaysOn(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	b := webtest.New(t)
	b.Open(t, 360, 640, serveLive(t, m))
	webtest.Ask[int](t, b, `window.locks = []; navigator.wakeLock.request = async () => { const l = new EventTarget(); l.released = false; l.release = async () => { if (l.released) return; l.released = true; l.dispatchEvent(new Event("release")); }; window.locks.push(l); return l; }; 0`)
	says := `document.getElementById("sound-says").textContent`
	held := func() int { return webtest.Ask[int](t, b, `window.locks.filter((l) => !l.released).length`) }
	look := func() {
		webtest.Ask[int](t, b, `document.dispatchEvent(new Event("visibilitychange")); 0`)
	}
	b.Do(t, chromedp.Click("#sound-switch"))
	b.Wait(t, says+`.includes("The screen stays on.")`)
	require.Equal(t, 1, held())
	look()
	look()
	require.Equal(t, 1, webtest.Ask[int](t, b, `window.locks.length`), "one is enough")

	webtest.Ask[int](t, b, `window.locks[0].release(); 0`)
	b.Wait(t, says+`.includes("The screen may go dark") && !`+says+`.includes("stays on")`)
	b.NoSideScroll(t)
	b.Shoot(t, "screen_may_go_dark_phone")
	look()
	b.Wait(t, says+`.includes("The screen stays on.")`)
	require.Equal(t, 1, held())

	b.Do(t, chromedp.Click("#sound-switch"))
	b.Wait(t, says+` === "Sound off in this browser."`)
	require.Equal(t, 0, held(), "nobody asked for a screen that stays on without sound")
	require.Empty(t, b.Problems())
}

// TestBrowserGreyAndCalm looks at the page without colour and without motion.
func TestBrowserGreyAndCalm(t *testing.T) {
	b := webtest.New(t)
	srv := httptest.NewServer(newServer(testOptions(), phases().feed()).handler())
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	features := []*emulation.MediaFeature{{Name: "prefers-reduced-motion", Value: "reduce"}}
	_, err := chromedp.Call(b.Ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: features})
	require.NoError(t, err)
	for _, scr := range screens[:2] {
		b.Open(t, scr.w, scr.h, srv.URL)
		require.Empty(t, webtest.Ask[[]string](t, b, `[...document.querySelectorAll("*")].filter(e => ["", "::before"].some(p => getComputedStyle(e, p).animationName !== "none")).map(e => e.className)`), "somebody asked for no motion")
		webtest.Ask[int](t, b, `document.documentElement.style.filter = "grayscale(1)"; 0`)
		bare := webtest.Ask[[]string](t, b, `[...document.querySelectorAll(".alarm")].filter(e => !e.querySelector(".phase").textContent.trim() || !e.querySelector(".head .icon use") || !e.querySelector(".phase .shape use") || !e.querySelector(".head b").textContent.trim()).map(e => e.dataset.key)`)
		require.Empty(t, bare, "an alarm is told by colour alone")
		looks := webtest.Ask[[]string](t, b, `[...document.querySelectorAll(".alarms > .alarm")].map(e => e.querySelector(".phase use").getAttribute("href") + getComputedStyle(e).borderTopStyle)`)
		seen := map[string]bool{}
		for _, l := range looks {
			require.False(t, seen[l], "two phases look the same: %s", l)
			seen[l] = true
		}
		b.Shoot(t, "grey_"+scr.name)
	}
}
