package dashboard

import (
	"context"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

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

// tap touches the middle of an element, as a thumb does.
func (b *browser) tap(t *testing.T, selector string) {
	t.Helper()
	at := ask[[]float64](t, b, `(() => { const e = document.querySelector(`+"`"+selector+"`"+`); e.scrollIntoView({block: "center"}); const r = e.getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()`)
	b.do(t, chromedp.TapXY(at[0], at[1]))
}

// steadyNow waits until the page has not moved for so long that taps count.
func (b *browser) steadyNow() { time.Sleep(700 * time.Millisecond) }

func (b *browser) untilPhase(t *testing.T, m *liveMachine, a engine.AlarmID, p alarm.Phase) {
	t.Helper()
	require.Eventually(t, func() bool { return m.phase(a) == p }, 5*time.Second, 20*time.Millisecond, "phase %s, want %s", m.phase(a), p)
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
	b := newBrowser(t)
	b.open(t, 360, 640, serveLive(t, m))
	b.touch(t)
	require.Equal(t, "none", ask[string](t, b, `getComputedStyle(document.querySelector(".thumb")).display`))
	starve(m)
	b.wait(t, `document.querySelector(".answer .word").textContent.includes("Act now") && document.querySelector(".thumb button")`)
	b.steadyNow()
	require.True(t, ask[bool](t, b, `(() => { const r = document.querySelector(".thumb button").getBoundingClientRect(); return r.height >= 64 && r.width >= 320 && r.bottom <= innerHeight; })()`))
	require.Equal(t, "call-list", ask[string](t, b, `getComputedStyle(document.querySelector('`+row+`')).animationName`))
	b.shoot(t, "flow_1_calling")

	// A button is still the same one after ticks have passed.
	ask[int](t, b, `window.held = document.querySelector(".thumb button"); window.seq = +document.body.dataset.seq; 0`)
	b.wait(t, `+document.body.dataset.seq > window.seq + 15`)
	require.True(t, ask[bool](t, b, `window.held.isConnected && window.held === document.querySelector(".thumb button")`))

	b.do(t, chromedp.TapXY(180, 596))
	b.untilPhase(t, m, lowAct, alarm.Acknowledged)
	b.wait(t, `document.querySelector('`+row+` .phase').textContent === "acknowledged"`)
	b.wait(t, `document.getElementById("told").textContent === "Pump is starving: acknowledged."`)
	b.wait(t, `getComputedStyle(document.querySelector(".thumb")).display === "none"`)
	require.Equal(t, "none", ask[string](t, b, `getComputedStyle(document.querySelector('`+row+`')).animationName`), "only what calls flashes")
	require.Contains(t, ask[string](t, b, `document.querySelector(".answer .word").textContent`), "Act now", "acknowledging hides nothing")
	b.wait(t, `document.querySelector(".events").textContent.includes("acknowledged")`)
	b.shoot(t, "flow_2_acknowledged")

	mend(m)
	b.untilPhase(t, m, lowAct, alarm.LatchedAcknowledged)
	b.wait(t, `document.querySelector('`+row+` [data-key="reset"] button')`)
	b.shoot(t, "flow_3_latched")
	b.steadyNow()
	b.tap(t, row+` [data-key="reset"] button`)
	b.untilPhase(t, m, lowAct, alarm.Normal)
	b.wait(t, `document.querySelector(".answer .word").textContent.includes("All limits have room")`)
	b.wait(t, `!document.querySelector('`+row+`')`)
	require.Empty(t, b.problems)
}

func TestBrowserShelvesInTwoSteps(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	b := newBrowser(t)
	b.open(t, 360, 640, serveLive(t, m))
	b.touch(t)
	starve(m)
	b.wait(t, `document.querySelector('`+row+` summary')`)
	b.steadyNow()
	require.False(t, ask[bool](t, b, `document.querySelector('`+row+` [name="shelf"]').checkVisibility()`), "one tap does not shelve")
	b.tap(t, row+` .shelf summary`)
	b.wait(t, `document.querySelector('`+row+` .shelf').open`)
	// The fold stays open while the page goes on.
	ask[int](t, b, `window.seq = +document.body.dataset.seq; 0`)
	b.wait(t, `+document.body.dataset.seq > window.seq + 15`)
	require.True(t, ask[bool](t, b, `document.querySelector('`+row+` .shelf').open`))
	b.noSideScroll(t)
	b.targets(t)
	b.shoot(t, "flow_4_shelving")
	require.Equal(t, alarm.Unacknowledged, m.phase(lowAct))
	b.tap(t, row+` [name="shelf"][value="1h"]`)
	b.untilPhase(t, m, lowAct, alarm.Shelved)
	b.wait(t, `document.querySelector('`+row+` .phase').textContent.startsWith("shelved until")`)
	b.steadyNow()
	b.tap(t, row+` [data-key="unshelve"] button`)
	b.untilPhase(t, m, lowAct, alarm.Unacknowledged)

	// What cannot be done is said, and why.
	b.wait(t, `document.querySelector('`+row+` [data-key="acknowledge"]')`)
	b.steadyNow()
	ask[int](t, b, `document.querySelector('`+row+` [data-key="acknowledge"]').action = "/alarms/inlet_low.act/reset"; 0`)
	b.tap(t, row+` [data-key="acknowledge"] button`)
	b.wait(t, `document.getElementById("told").textContent.includes("its condition still stands")`)
	require.Equal(t, "alert", ask[string](t, b, `document.getElementById("told").getAttribute("role")`))
	b.shoot(t, "flow_5_refused")
	require.Empty(t, b.problems)
}

// TestBrowserIgnoresATapOnWhatJustMoved: a button that came under the thumb a
// moment ago is not the one that was meant.
func TestBrowserIgnoresATapOnWhatJustMoved(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	b := newBrowser(t)
	b.open(t, 360, 640, serveLive(t, m))
	starve(m)
	ask[bool](t, b, `new Promise(done => { const look = () => { const e = document.querySelector(".thumb button"); if (!e) return setTimeout(look, 5); e.click(); done(true); }; look(); })`)
	time.Sleep(300 * time.Millisecond)
	require.Equal(t, alarm.Unacknowledged, m.phase(lowAct))
	b.steadyNow()
	ask[int](t, b, `document.querySelector(".thumb button").click(); 0`)
	b.untilPhase(t, m, lowAct, alarm.Acknowledged)
}

// goTo navigates while the answer to a form may still be on its way: the
// browser then gives up one of the two, and the second try finds it at rest.
func (b *browser) goTo(t *testing.T, url string) {
	t.Helper()
	require.Eventually(t, func() bool {
		ctx, cancel := context.WithTimeout(b.ctx, 20*time.Second)
		defer cancel()
		return chromedp.Do(ctx, chromedp.Navigate(url)) == nil
	}, time.Minute, 200*time.Millisecond)
}

func TestBrowserWithoutJavaScript(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	b := newBrowser(t)
	url := serveLive(t, m)
	starve(m)
	b.untilPhase(t, m, lowAct, alarm.Unacknowledged)
	ctx := b.ctx
	_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	require.NoError(t, err)
	b.do(t, chromedp.EmulateViewport(360, 640), chromedp.Navigate(url))
	b.shoot(t, "flow_6_no_script")
	b.do(t, chromedp.TapXY(180, 596))
	b.untilPhase(t, m, lowAct, alarm.Acknowledged)
	b.goTo(t, url+"/alarms/inlet_low.act")
	b.shoot(t, "flow_7_alarm_page")
	b.do(t, chromedp.Click(`button[value="15m"]`))
	b.untilPhase(t, m, lowAct, alarm.Shelved)
}

func TestBrowserSound(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	b := newBrowser(t)
	b.open(t, 360, 640, serveLive(t, m))
	b.touch(t)
	require.Contains(t, ask[string](t, b, `document.getElementById("sound-says").textContent`), "Sound off in this browser")
	ask[int](t, b, `window.beeps = []; const start = OscillatorNode.prototype.start; OscillatorNode.prototype.start = function (t) { window.beeps.push(this.frequency.value); return start.call(this, t); }; 0`)
	starve(m)
	b.wait(t, `document.querySelector(".thumb button")`)
	require.Empty(t, ask[[]float64](t, b, `window.beeps`), "no sound that nobody asked for")
	b.tap(t, "#sound-switch")
	b.wait(t, `document.getElementById("sound-says").textContent.startsWith("Sound on in this browser")`)
	require.Equal(t, "true", ask[string](t, b, `document.getElementById("sound-switch").getAttribute("aria-pressed")`))
	b.wait(t, `window.beeps.filter(f => f === 988).length >= 6`)
	b.steadyNow()
	ask[int](t, b, `document.querySelector(".thumb button").click(); 0`)
	b.untilPhase(t, m, lowAct, alarm.Acknowledged)
	b.wait(t, `!document.querySelector(".thumb button")`)
	ask[int](t, b, `window.beeps = []; 0`)
	time.Sleep(2500 * time.Millisecond)
	require.Empty(t, ask[[]float64](t, b, `window.beeps`), "quiet once acknowledged")
	b.shoot(t, "flow_8_sound")
	b.tap(t, "#sound-switch")
	b.wait(t, `document.getElementById("sound-says").textContent === "Sound off in this browser."`)
	require.Empty(t, b.problems)
}

// TestBrowserSaysThatTheScreenMayGoDark: by its name and over plain http the
// page is no secure context, and a browser has no wake lock there.
func TestBrowserSaysThatTheScreenMayGoDark(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	b := newBrowser(t)
	url := serveLive(t, m)
	b.open(t, 360, 640, strings.Replace(url, "127.0.0.1", "trailer.local", 1))
	require.False(t, ask[bool](t, b, `isSecureContext`))
	b.do(t, chromedp.Click("#sound-switch"))
	b.wait(t, `document.getElementById("sound-says").textContent.includes("can't keep the screen on over plain http")`)
	require.Empty(t, b.problems)
}

// TestBrowserGreyAndCalm looks at the page without colour and without motion.
func TestBrowserGreyAndCalm(t *testing.T) {
	b := newBrowser(t)
	srv := httptest.NewServer(newServer(testOptions(), phases().feed()).handler())
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	features := []*emulation.MediaFeature{{Name: "prefers-reduced-motion", Value: "reduce"}}
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: features})
	require.NoError(t, err)
	for _, scr := range screens[:2] {
		b.open(t, scr.w, scr.h, srv.URL)
		require.Empty(t, ask[[]string](t, b, `[...document.querySelectorAll("*")].filter(e => getComputedStyle(e).animationName !== "none").map(e => e.className)`), "somebody asked for no motion")
		ask[int](t, b, `document.documentElement.style.filter = "grayscale(1)"; 0`)
		bare := ask[[]string](t, b, `[...document.querySelectorAll(".alarm")].filter(e => !e.querySelector(".phase").textContent.trim() || !e.querySelector(".head .icon use") || !e.querySelector(".phase .shape use") || !e.querySelector(".head b").textContent.trim()).map(e => e.dataset.key)`)
		require.Empty(t, bare, "an alarm is told by colour alone")
		looks := ask[[]string](t, b, `[...document.querySelectorAll(".alarms > .alarm")].map(e => e.querySelector(".phase use").getAttribute("href") + getComputedStyle(e).borderTopStyle)`)
		seen := map[string]bool{}
		for _, l := range looks {
			require.False(t, seen[l], "two phases look the same: %s", l)
			seen[l] = true
		}
		b.shoot(t, "grey_"+scr.name)
	}
}

// touch makes the page one that is touched and not clicked.
func (b *browser) touch(t *testing.T) {
	t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: true})
	require.NoError(t, err)
}
