package dashboard

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/access"
	"headroom/rules/alarm"
)

// gatedServer is a dashboard with a gate, whose folder is dir.
func gatedServer(t *testing.T, readNeedsPIN bool) (h http.Handler, dir string) {
	dir = t.TempDir()
	g, err := access.Open(dir, access.Options{})
	require.NoError(t, err)
	opt := testOptions()
	opt.Gate, opt.ReadNeedsPIN = g, readNeedsPIN
	return newServer(opt, steady().feed()).handler(), dir
}

// send sends one request; a form makes it a POST.
func send(h http.Handler, path string, form url.Values, change func(*http.Request)) *http.Response {
	method := http.MethodGet
	if form != nil {
		method = http.MethodPost
	}
	r := httptest.NewRequest(method, "http://10.42.0.1"+path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if change != nil {
		change(r)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w.Result()
}

func with(c *http.Cookie) func(*http.Request) { return func(r *http.Request) { r.AddCookie(c) } }

func enterWith(t *testing.T, h http.Handler, pin, next string) *http.Cookie {
	resp := send(h, "/access/enter", url.Values{"pin": {pin}, "next": {next}}, nil)
	require.Equal(t, http.StatusSeeOther, resp.StatusCode)
	require.Len(t, resp.Cookies(), 1)
	return resp.Cookies()[0]
}

// Whatever is added later: a change needs the PIN, unless it is named harmless.
func TestEveryChangeNeedsThePIN(t *testing.T) {
	h, dir := gatedServer(t, false)
	for _, state := range []string{"without a PIN", "with one"} {
		for _, path := range []string{"/alarms/inlet_low.act/acknowledge", "/api/v1/alarms/all/acknowledge", "/api/v1/anything", "/not/yet/invented"} {
			for _, method := range []string{"POST", "PUT", "DELETE", "PATCH"} {
				resp := send(h, path, nil, func(r *http.Request) { r.Method = method })
				require.Equal(t, http.StatusUnauthorized, resp.StatusCode, "%s %s %s", method, path, state)
			}
		}
		require.Equal(t, http.StatusSeeOther, send(h, "/", url.Values{"units": {"SI"}}, nil).StatusCode)
		require.Equal(t, http.StatusOK, send(h, "/api/v1/status", nil, nil).StatusCode)
		_, err := access.NewPIN(dir)
		require.NoError(t, err)
	}
}

func TestPINOpensChanges(t *testing.T) {
	h, dir := gatedServer(t, false)
	pin, err := access.NewPIN(dir)
	require.NoError(t, err)
	wrong := send(h, "/access/enter", url.Values{"pin": {"x"}}, nil)
	require.Equal(t, http.StatusUnauthorized, wrong.StatusCode)
	require.Empty(t, wrong.Cookies())

	c := enterWith(t, h, pin, "/handbook")
	require.True(t, c.HttpOnly)
	require.Equal(t, http.SameSiteStrictMode, c.SameSite)
	require.NotEqual(t, http.StatusUnauthorized, send(h, "/api/v1/alarms/all/acknowledge", url.Values{}, with(c)).StatusCode)

	resp := send(h, "/api/v1/session", url.Values{"pin": {pin}}, nil)
	var got struct{ Token string }
	require.NoError(t, json.NewDecoder(resp.Body).Decode(&got))
	bearer := func(r *http.Request) { r.Header.Set("Authorization", "Bearer "+got.Token) }
	require.NotEqual(t, http.StatusUnauthorized, send(h, "/api/v1/alarms/all/acknowledge", url.Values{}, bearer).StatusCode)

	require.Equal(t, http.StatusSeeOther, send(h, "/access/leave", url.Values{}, with(c)).StatusCode)
	require.Equal(t, http.StatusUnauthorized, send(h, "/api/v1/alarms/all/acknowledge", url.Values{}, with(c)).StatusCode)
	require.Equal(t, http.StatusUnauthorized, send(h, "/access/leave", url.Values{"all": {"1"}}, with(c)).StatusCode, "strangers end nobody's session")
	require.NotEqual(t, http.StatusUnauthorized, send(h, "/api/v1/alarms/all/acknowledge", url.Values{}, bearer).StatusCode)
	require.Equal(t, http.StatusSeeOther, send(h, "/access/leave", url.Values{"all": {"1"}}, bearer).StatusCode)
	require.Equal(t, http.StatusUnauthorized, send(h, "/api/v1/alarms/all/acknowledge", url.Values{}, bearer).StatusCode)
}

// An acknowledgement that was turned away for want of the PIN is done with it,
// and the page that asks for the PIN says which. Common practice, no source: who
// was asked for a key finds done what the key was for.
func TestPINDoesTheAcknowledgementThatWaited(t *testing.T) {
	dir := t.TempDir()
	g, err := access.Open(dir, access.Options{})
	require.NoError(t, err)
	pin, err := access.NewPIN(dir)
	require.NoError(t, err)
	m := newLiveMachine(t, liveConfig())
	starve(m)
	m.feed(2 * time.Second)
	require.Equal(t, alarm.Unacknowledged, m.phase(lowAct))
	opt := m.options()
	opt.Gate = g
	h := New(opt)
	asked := text(t, send(h, "/alarms/all/acknowledge", url.Values{"alarm": {"inlet_low.act", "nothing"}}, nil))
	require.Contains(t, asked, `name="ack" value="inlet_low.act"`)
	require.NotContains(t, asked, `value="nothing"`)
	require.NotContains(t, asked, `name="again"`)
	asked = text(t, send(h, "/access?ack=inlet_low.act&next=/runs", nil, nil))
	require.Contains(t, plain(asked), "The PIN acknowledges too: Pump is starving.")
	require.Equal(t, alarm.Unacknowledged, m.phase(lowAct), "asking does nothing")
	require.Equal(t, http.StatusUnauthorized, send(h, "/access/enter", url.Values{"pin": {"x"}, "ack": {"inlet_low.act"}}, nil).StatusCode)
	require.Equal(t, alarm.Unacknowledged, m.phase(lowAct), "nor does a wrong PIN")
	resp := send(h, "/access/enter", url.Values{"pin": {pin}, "ack": {"inlet_low.act"}, "next": {"/"}}, nil)
	require.Equal(t, http.StatusSeeOther, resp.StatusCode)
	require.Equal(t, alarm.Acknowledged, m.phase(lowAct))
	// What is no longer there to be acknowledged is said, and who gave the PIN is in.
	resp = send(h, "/access/enter", url.Values{"pin": {pin}, "ack": {"inlet_low.act"}}, nil)
	require.Equal(t, http.StatusConflict, resp.StatusCode)
	require.NotEmpty(t, resp.Cookies())
}

// The PIN in an address would stand in histories and logs.
func TestPINInTheAddressIsNoPIN(t *testing.T) {
	h, dir := gatedServer(t, false)
	pin, err := access.NewPIN(dir)
	require.NoError(t, err)
	resp := send(h, "/access/enter?pin="+url.QueryEscape(pin), url.Values{}, nil)
	require.Equal(t, http.StatusUnauthorized, resp.StatusCode)
}

func TestReadingMayNeedThePIN(t *testing.T) {
	h, dir := gatedServer(t, true)
	pin, err := access.NewPIN(dir)
	require.NoError(t, err)
	for path, code := range map[string]int{
		"/": 401, "/metrics": 401, "/api/v1/stream": 401, "/handbook": 401, "/limits": 401,
		"/access": 200, "/static/app.css": 200, "/-/healthy": 200,
	} {
		require.Equal(t, code, send(h, path, nil, nil).StatusCode, path)
	}
	require.Equal(t, http.StatusOK, send(h, "/handbook", nil, with(enterWith(t, h, pin, "/"))).StatusCode)
}

func TestOnlyOurOwnPagesAreReturnedTo(t *testing.T) {
	for next, want := range map[string]string{
		"/handbook": "/handbook", "/?window=10": "/?window=10", "": "/", "/access": "/", "//elsewhere.example/x": "/",
		"https://elsewhere.example/": "/", "/\\elsewhere.example": "/", "javascript:alert(1)": "/", "/a\r\nSet-Cookie: x=1": "/",
	} {
		require.Equal(t, want, ownPath(next), "%q", next)
	}
}

func TestGuessersAreToldToWait(t *testing.T) {
	h, dir := gatedServer(t, false)
	_, err := access.NewPIN(dir)
	require.NoError(t, err)
	code := 0
	for range 6 {
		code = send(h, "/access/enter", url.Values{"pin": {"1"}}, nil).StatusCode
	}
	require.Equal(t, http.StatusTooManyRequests, code)
}

// Who presses something, and only then gives the PIN, is told that it wasn't
// done, and finds the way back; the name given with the PIN stands beside acts.
func TestWhatWasPressedBeforeThePINIsNotTakenForDone(t *testing.T) {
	h, dir := gatedServer(t, false)
	pin, err := access.NewPIN(dir)
	require.NoError(t, err)
	asked := text(t, send(h, "/alarms/inlet_low.act/shelve", url.Values{}, func(r *http.Request) { r.Header.Set("Referer", "http://10.42.0.1/?window=10") }))
	require.Contains(t, asked, `name="again" value="1"`)
	resp := send(h, "/access/enter", url.Values{"pin": {pin}, "next": {"/?window=10"}, "again": {"1"}, "who": {" Ada  Example "}}, nil)
	require.Equal(t, http.StatusSeeOther, resp.StatusCode)
	cookies := resp.Cookies()
	require.Len(t, cookies, 2)
	page := text(t, send(h, resp.Header.Get("Location"), nil, func(r *http.Request) {
		for _, c := range cookies {
			r.AddCookie(c)
			if c.Name == whoCookie {
				require.Equal(t, "Ada+Example", c.Value)
			}
		}
	}))
	require.Contains(t, page, "was not done")
	require.Contains(t, page, `class="press" href="/?window=10"`)

	// Who only wanted to be let in isn't told of anything.
	require.NotContains(t, text(t, send(h, "/access", nil, with(cookies[0]))), "was not done")
}
