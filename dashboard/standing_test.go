package dashboard

import (
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/daemon/access"
	"headroom/dashboard/webtest"
	"headroom/rules/alarm"
)

// lineOf returns the words of the line about alarms.
func lineOf(page string) string {
	_, rest, _ := strings.Cut(page, `id="standing"`)
	_, rest, _ = strings.Cut(rest, ">")
	line, _, _ := strings.Cut(rest, "</div>")
	return strings.TrimSpace(plain(line))
}

// A standing alarm is seen on every page. Source: ISA-101.01, by the project's
// list of requirements.
func TestEveryPageSaysThatAnAlarmStands(t *testing.T) {
	d := newDay(t)
	for _, c := range []struct {
		name string
		sc   *scene
		want string
	}{
		{"none", steady(), ""},
		{"stands", starving(), "Act now: Pump is starving"},
		{"several", busOff(), "Warning: Inlet pressure: sensor can&#39;t be trusted and 1 more"},
		{"over, nobody saw it", gone(), "Not acknowledged: Pump is starving"},
		{"waits for its reset", latched(), "Waits for its reset: Pump is starving"},
	} {
		h := d.handler(c.sc)
		for _, path := range dayPages {
			require.Equal(t, c.want, lineOf(text(t, get(t, h, path))), "%s: %s", c.name, path)
		}
		require.Equal(t, c.want, strings.TrimSpace(plain(text(t, get(t, h, standingPath)))), c.name)
	}
	opt := testOptions()
	opt.Now = func() time.Time { return noon.Add(time.Minute) }
	require.Contains(t, lineOf(text(t, get(t, newServer(opt, steady().feed()).handler(), "/limits"))), "Readings are old")
}

// Who may not read sees no alarm either.
func TestLineAboutAlarmsNeedsThePINWhereReadingDoes(t *testing.T) {
	opt := testOptions()
	g, err := access.Open(t.TempDir(), access.Options{})
	require.NoError(t, err)
	opt.Gate, opt.ReadNeedsPIN = g, true
	h := newServer(opt, starving().feed()).handler()
	require.Equal(t, 401, get(t, h, standingPath).StatusCode)
	require.NotContains(t, text(t, get(t, h, "/access")), "starving")
}

// Who looks up something else sees and hears that the pump starves, and the tap
// that was turned away for want of the PIN is done with it.
func TestBrowserAlarmOnOtherPages(t *testing.T) {
	dir := t.TempDir()
	g, err := access.Open(dir, access.Options{})
	require.NoError(t, err)
	pin, err := access.NewPIN(dir)
	require.NoError(t, err)
	d := newDay(t)
	m := newLiveMachine(t, liveConfig())
	opt := d.opt
	opt.Store, opt.Acts, opt.Gate, opt.Now = m.store, m.act, g, nil
	srv := httptest.NewServer(New(opt))
	t.Cleanup(srv.Close)
	t.Cleanup(srv.CloseClientConnections)
	m.run(t)
	b := webtest.New(t)
	b.Open(t, 360, 640, srv.URL)
	b.Touch(t)
	b.Tap(t, "#sound-switch")
	b.Wait(t, `document.getElementById("sound-says").textContent.startsWith("Sound on in this browser")`)
	b.GoTo(t, srv.URL+"/start")
	hearTones(t, b)
	require.Equal(t, "", webtest.Ask[string](t, b, `document.getElementById("standing").textContent`))
	b.Wait(t, `document.getElementById("sound-switch").checkVisibility()`)
	starve(m)
	b.Wait(t, `document.querySelector("#standing a")?.textContent.includes("Act now: Pump is starving")`)
	if !webtest.Ask[bool](t, b, `document.getElementById("sound-says").textContent.startsWith("Sound on")`) {
		require.Contains(t, webtest.Ask[string](t, b, `document.getElementById("sound-says").textContent`), "tap to turn it on again")
		b.Tap(t, "h1") // any tap will do
	}
	b.Wait(t, `window.loud.filter(f => f === 988).length >= 3`)
	b.NoSideScroll(t)
	b.Targets(t)
	b.Letters(t)
	b.Axe(t)
	b.Shoot(t, "standing_phone")
	b.Do(t, chromedp.EmulateViewport(1280, 800))
	b.Shoot(t, "standing_laptop")

	b.Open(t, 360, 640, srv.URL)
	b.Wait(t, `document.querySelector(".thumb button")`)
	b.SteadyNow()
	b.Do(t, chromedp.TapXY(180, 596))
	require.Eventually(t, func() bool { // an answer may get lost while the page changes
		at, err := chromedp.Run(b.Ctx, chromedp.Evaluate[bool](`location.pathname === "/access" && document.readyState === "complete"`))
		return err == nil && at
	}, 15*time.Second, 50*time.Millisecond)
	require.Contains(t, webtest.Ask[string](t, b, `document.getElementById("standing").textContent`), "Pump is starving")
	require.Contains(t, webtest.Ask[string](t, b, `document.querySelector("main").textContent`), "The PIN acknowledges too: Pump is starving.")
	b.Shoot(t, "standing_access")
	require.Equal(t, alarm.Unacknowledged, m.phase(lowAct))
	webtest.Ask[int](t, b, `document.getElementById("pin").value = "`+pin+`"; document.querySelector(".pin button").click(); 0`)
	untilPhase(t, m, lowAct, alarm.Acknowledged)
	require.Empty(t, b.Problems())
}
