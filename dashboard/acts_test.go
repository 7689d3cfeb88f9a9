package dashboard

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/words"
)

var lowAct = engine.ActAlarm(engine.InletLow)

func post(h http.Handler, target string, form url.Values, edit ...func(*http.Request)) *http.Response {
	r := httptest.NewRequest(http.MethodPost, "http://localhost"+target, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for _, e := range edit {
		e(r)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w.Result()
}

// starved is a live machine with one alarm that calls and others under it.
func starved(t testing.TB, latch bool) (*liveMachine, http.Handler) {
	cfg := liveConfig()
	cfg.Rules[engine.InletLow].Latch = latch
	m := newLiveMachine(t, cfg)
	m.set(frame.InletPressure, 5e3)
	m.set(frame.Flow, 5e-3/60)
	m.feed(time.Second)
	require.Equal(t, alarm.Unacknowledged, m.phase(lowAct))
	return m, New(m.options())
}

func TestEveryAct(t *testing.T) {
	healthy := func(m *liveMachine) {
		m.set(frame.InletPressure, 250e3)
		m.set(frame.Flow, 7.6e-3/60)
		m.feed(time.Second)
	}
	act := func(h http.Handler, act string) { post(h, "/alarms/inlet_low.act/"+act, nil) }
	cases := []struct {
		name   string
		latch  bool
		before func(m *liveMachine, h http.Handler)
		act    string
		form   url.Values
		want   alarm.Phase
		code   int
		text   string
	}{
		{name: "acknowledge", act: "acknowledge", want: alarm.Acknowledged, code: 303},
		{name: "acknowledge twice", act: "acknowledge", before: func(_ *liveMachine, h http.Handler) { act(h, "acknowledge") }, want: alarm.Acknowledged, code: 409, text: "it is acknowledged already"},
		{name: "acknowledge nothing", act: "acknowledge", before: func(m *liveMachine, h http.Handler) { act(h, "acknowledge"); healthy(m) }, want: alarm.Normal, code: 409, text: "nothing is left to acknowledge"},
		{name: "acknowledge what has gone", act: "acknowledge", before: func(m *liveMachine, _ http.Handler) { healthy(m) }, want: alarm.Normal, code: 303},
		{name: "reset what stands", act: "reset", latch: true, want: alarm.Unacknowledged, code: 409, text: "its condition still stands"},
		{name: "reset what nobody acknowledged", act: "reset", latch: true, before: func(m *liveMachine, _ http.Handler) { healthy(m) }, want: alarm.LatchedUnacknowledged, code: 409, text: "Acknowledge it first"},
		{name: "reset", act: "reset", latch: true, before: func(m *liveMachine, h http.Handler) { healthy(m); act(h, "acknowledge") }, want: alarm.Normal, code: 303},
		{name: "reset what does not latch", act: "reset", before: func(m *liveMachine, _ http.Handler) { healthy(m) }, want: alarm.Returned, code: 409, text: "it is not latched"},
		{name: "shelve 15 min", act: "shelve", form: url.Values{"shelf": {"15m"}}, want: alarm.Shelved, code: 303},
		{name: "shelve until end of shift", act: "shelve", form: url.Values{"shelf": {"shift"}}, want: alarm.Shelved, code: 303},
		{name: "shelve for ever", act: "shelve", form: url.Values{"shelf": {"1000h"}}, want: alarm.Unacknowledged, code: 400, text: "at most 8 h 00 min"},
		{name: "shelve for nothing", act: "shelve", want: alarm.Unacknowledged, code: 400, text: "say 15m, 1h or shift"},
		{name: "shelve backwards", act: "shelve", form: url.Values{"shelf": {"-1h"}}, want: alarm.Unacknowledged, code: 400},
		{name: "unshelve", act: "unshelve", before: func(_ *liveMachine, h http.Handler) {
			post(h, "/alarms/inlet_low.act/shelve", url.Values{"shelf": {"1h"}})
		}, want: alarm.Unacknowledged, code: 303},
		{name: "unshelve what is not", act: "unshelve", want: alarm.Unacknowledged, code: 409, text: "it is not shelved"},
		{name: "take out is not offered here", act: "take_out", want: alarm.Unacknowledged, code: 403, text: "Cannot take an alarm out of service from this page"},
		{name: "put back", act: "put_back", before: func(_ *liveMachine, h http.Handler) { post(h, "/api/v1/alarms/inlet_low.act/take_out", nil) }, want: alarm.Unacknowledged, code: 303},
		{name: "put back what is in", act: "put_back", want: alarm.Unacknowledged, code: 409, text: "it is not out of service"},
		{name: "acknowledge what is out", act: "acknowledge", before: func(_ *liveMachine, h http.Handler) { post(h, "/api/v1/alarms/inlet_low.act/take_out", nil) }, want: alarm.OutOfService, code: 409, text: "put it back first"},
		{name: "no such act", act: "explode", want: alarm.Unacknowledged, code: 404, text: "there are acknowledge, reset, shelve"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			m, h := starved(t, c.latch)
			if c.before != nil {
				c.before(m, h)
			}
			resp := post(h, "/alarms/inlet_low.act/"+c.act, c.form)
			require.Equal(t, c.code, resp.StatusCode)
			page := plain(text(t, resp))
			require.Contains(t, page, c.text)
			if c.code == 303 {
				require.Equal(t, "/#h-alarms", resp.Header.Get("Location"))
			} else {
				require.Contains(t, page, "Back to")
			}
			require.Equal(t, c.want, m.phase(lowAct))
			m.feed(liveTick)
			require.Equal(t, c.want, m.phase(lowAct), "the engine says the same a tick later")
		})
	}
}

func TestActsOverJSON(t *testing.T) {
	m, h := starved(t, false)
	get := func(resp *http.Response) (o map[string]any) {
		require.Equal(t, "application/json", resp.Header.Get("Content-Type"))
		require.NoError(t, json.NewDecoder(resp.Body).Decode(&o))
		return o
	}
	resp := post(h, "/api/v1/alarms/inlet_low.act/shelve?shelf=90m&who=shift+lead", nil)
	require.Equal(t, 200, resp.StatusCode)
	o := get(resp)
	require.Equal(t, words.Alarm(lowAct).Title+": shelved for 90 min.", o["text"])
	done := o["done"].([]any)[0].(map[string]any)
	require.Equal(t, "shelved", done["phase"])
	require.Equal(t, 5400.0, done["shelf_seconds"])

	resp = post(h, "/api/v1/alarms/inlet_low.act/reset", nil)
	require.Equal(t, 409, resp.StatusCode)
	require.Equal(t, "Cannot reset “Pump is starving” now: it is not latched.", get(resp)["error"])
	resp = post(h, "/api/v1/alarms/inlet_low.middle/reset", nil)
	require.Equal(t, 404, resp.StatusCode)
	require.Contains(t, get(resp)["error"], "There is no alarm")
	require.Equal(t, 200, post(h, "/api/v1/alarms/inlet_low.act/take_out", nil).StatusCode)

	// The script of the page asks at the page's own address.
	asJSON := func(r *http.Request) { r.Header.Set("Accept", "application/json") }
	require.Contains(t, get(post(h, "/alarms/inlet_low.act/put_back", nil, asJSON))["text"], "put back in service")
	require.Contains(t, get(post(h, "/alarms/inlet_low.act/take_out", nil, asJSON))["error"], "Cannot take an alarm out")

	var acts struct{ Acts []map[string]any }
	r := httptest.NewRequest(http.MethodGet, "http://localhost/api/v1/acts?after=1", nil)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	require.NoError(t, json.NewDecoder(w.Body).Decode(&acts))
	require.Len(t, acts.Acts, 2)
	require.Equal(t, "take_out", acts.Acts[0]["act"])
	require.Equal(t, "shift lead", m.store.Acts(0)[0].Who)
	require.Equal(t, nobody, m.store.Acts(1)[0].Who)
}

func TestAcknowledgeAllTakesWhatWasOnTheScreen(t *testing.T) {
	m, h := starved(t, false)
	m.set(frame.MotorCurrent, 30)
	m.feed(time.Second)
	load := engine.ActAlarm(engine.CircuitLoad)
	require.Equal(t, alarm.Unacknowledged, m.phase(load))
	page := text(t, get(t, h, "/"))
	require.Contains(t, page, `action="/alarms/all/acknowledge"`)
	require.Contains(t, page, `<input type="hidden" name="alarm" value="circuit_load.act">`)
	require.NotContains(t, page, `name="alarm" value="inlet_low.warn"`, "what stands under another goes with it")

	require.Equal(t, 303, post(h, "/alarms/all/acknowledge", url.Values{"alarm": {"inlet_low.act"}}).StatusCode)
	require.Equal(t, alarm.Acknowledged, m.phase(lowAct))
	require.Equal(t, alarm.Unacknowledged, m.phase(load), "nobody has seen this one")
	require.Equal(t, 409, post(h, "/alarms/all/acknowledge", url.Values{"alarm": {"inlet_low.act"}}).StatusCode)
	require.Equal(t, 404, post(h, "/alarms/all/acknowledge", url.Values{"alarm": {"nothing"}}).StatusCode)
	require.Equal(t, 400, post(h, "/alarms/all/shelve", url.Values{"shelf": {"1h"}}).StatusCode)
	require.Equal(t, 200, post(h, "/api/v1/alarms/all/acknowledge", nil).StatusCode, "without names all that call")
	require.Equal(t, alarm.Acknowledged, m.phase(load))
	m.feed(liveTick)
	require.Equal(t, 0, m.store.Latest().Verdicts.Calling)
	require.NotContains(t, text(t, get(t, h, "/")), `class="press"`)
}

// Each act waits until it is safe in the record, 3 s at most; a medium that
// doesn't answer costs a person that once and not for each alarm.
func TestAcknowledgeAllWaitsOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, _ := starved(t, false)
		m.set(frame.MotorCurrent, 30)
		m.feed(time.Second)
		opt := m.options()
		const slow = 3 * time.Second
		opt.Acts = func(ctx context.Context, a ActRequest) (engine.Did, error) {
			did, err := m.act(ctx, a)
			time.Sleep(slow)
			if err == nil {
				err = ErrNotRecorded
			}
			return did, err
		}
		h := New(opt)
		load := engine.ActAlarm(engine.CircuitLoad)
		start := time.Now()
		resp := post(h, "/api/v1/alarms/all/acknowledge", url.Values{"alarm": {"inlet_low.act", "circuit_load.act", "inlet_low.act"}})
		require.Equal(t, 200, resp.StatusCode)
		require.Equal(t, slow, time.Since(start))
		var o struct {
			Done     []struct{ Alarm string }
			Text     string
			Recorded bool
		}
		require.NoError(t, json.NewDecoder(resp.Body).Decode(&o))
		require.Len(t, o.Done, 2, "one that is named twice is done once")
		require.Equal(t, []string{lowAct.String(), load.String()}, []string{o.Done[0].Alarm, o.Done[1].Alarm}, "told in the order of the screen")
		require.Contains(t, o.Text, "2 alarms acknowledged. It is done, but not recorded")
		require.False(t, o.Recorded)
		require.Equal(t, alarm.Acknowledged, m.phase(lowAct))
		require.Equal(t, alarm.Acknowledged, m.phase(load))
	})
}

func TestOnlyThisPageMayAct(t *testing.T) {
	m, h := starved(t, false)
	for _, path := range []string{"/alarms/inlet_low.act/acknowledge", "/api/v1/alarms/inlet_low.act/acknowledge", "/who"} {
		resp := post(h, path, nil, func(r *http.Request) { r.Header.Set("Origin", "http://attacker.example") })
		require.Equal(t, http.StatusForbidden, resp.StatusCode, path)
		resp = post(h, path, nil, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") })
		require.Equal(t, http.StatusForbidden, resp.StatusCode, path)
		require.Equal(t, http.StatusMethodNotAllowed, get(t, h, path).StatusCode, path)
		resp = post(h, path, nil, func(r *http.Request) { r.Host = "attacker.example" })
		require.Equal(t, http.StatusMisdirectedRequest, resp.StatusCode, path)
	}
	require.Equal(t, 400, post(h, "/alarms/inlet_low.act/acknowledge", url.Values{"x": {strings.Repeat("y", maxBody)}}).StatusCode)
	require.Equal(t, alarm.Unacknowledged, m.phase(lowAct))
}

func TestReadOnly(t *testing.T) {
	m, _ := starved(t, false)
	opt := m.options()
	opt.Acts = nil
	h := New(opt)
	page := text(t, get(t, h, "/"))
	require.Contains(t, page, "not acknowledged")
	for _, not := range []string{"/alarms/inlet_low.act/acknowledge", "data-act", `action="/who"`} {
		require.NotContains(t, page, not)
	}
	require.NotContains(t, text(t, get(t, h, "/alarms/inlet_low.act")), `action="/alarms`)
	require.Equal(t, 403, post(h, "/alarms/inlet_low.act/acknowledge", nil).StatusCode)
	require.Equal(t, 403, post(h, "/api/v1/alarms/inlet_low.act/acknowledge", nil).StatusCode)
}

func TestAFailureIsNotCalledImpossible(t *testing.T) {
	m, h := starved(t, false)
	m.broke = errBroke
	resp := post(h, "/alarms/inlet_low.act/acknowledge", nil)
	require.Equal(t, http.StatusServiceUnavailable, resp.StatusCode)
	require.Contains(t, text(t, resp), "the engine is being replaced")
	require.Equal(t, http.StatusServiceUnavailable, post(h, "/alarms/all/acknowledge", nil).StatusCode)
}

// A daemon takes the act between two ticks and publishes it with the next one;
// the page that comes back must show it.
func TestAnswerWaitsUntilTheActCanBeSeen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newLiveMachine(t, liveConfig())
		m.set(frame.InletPressure, 5e3)
		m.feed(time.Second)
		opt := m.options()
		opt.Acts = func(_ context.Context, a ActRequest) (engine.Did, error) {
			m.mu.Lock()
			defer m.mu.Unlock()
			did, ok := m.e.Do(&m.st, a.Alarm, a.Act, m.now, a.Shelf)
			require.True(t, ok)
			return did, nil
		}
		h := New(opt)
		go func() {
			time.Sleep(liveTick)
			m.tick(noon)
		}()
		start := time.Now()
		require.Equal(t, 303, post(h, "/alarms/inlet_low.act/acknowledge", nil).StatusCode)
		require.Equal(t, liveTick, time.Since(start))
		require.Equal(t, alarm.Acknowledged, m.phase(lowAct))

		start = time.Now()
		require.Equal(t, 303, post(h, "/alarms/inlet_low.act/shelve", url.Values{"shelf": {"1h"}}).StatusCode)
		require.Equal(t, seenWithin, time.Since(start), "but not for ever")
	})
}

func TestNames(t *testing.T) {
	cases := []struct{ in, want string }{
		{"Ada", "Ada"}, {"  Ada \n Lovely\t", "Ada Lovely"}, {"", ""}, {" \t", ""}, {"a\x00\x1bb", "ab"}, {"\xff\xfeÄda", "Äda"},
		{strings.Repeat("ä", 50), strings.Repeat("ä", maxWho)}, {"<b>x</b>", "<b>x</b>"},
	}
	for _, c := range cases {
		require.Equal(t, c.want, cleanName(c.in))
	}
	m, h := starved(t, false)
	resp := post(h, "/who", url.Values{"who": {"Ada <b> Ü"}})
	require.Equal(t, 303, resp.StatusCode)
	cookie := resp.Cookies()[0]
	require.True(t, cookie.HttpOnly)
	with := func(r *http.Request) { r.AddCookie(cookie) }
	require.Contains(t, text(t, get(t, h, "/", with)), `value="Ada &lt;b&gt; Ü"`)
	require.Equal(t, 303, post(h, "/alarms/inlet_low.act/acknowledge", nil, with).StatusCode)
	require.Equal(t, "Ada <b> Ü", m.store.Acts(0)[0].Who)
	page := text(t, get(t, h, "/"))
	require.Contains(t, page, "by Ada &lt;b&gt; Ü")
	require.Contains(t, plain(page), "Pump is starving acknowledged")
	require.Negative(t, post(h, "/who", url.Values{"who": {" "}}).Cookies()[0].MaxAge, "an empty name is forgotten")
	require.Equal(t, 400, post(h, "/who", url.Values{"who": {strings.Repeat("y", maxBody)}}).StatusCode)
}

func FuzzCleanName(f *testing.F) {
	for _, s := range []string{"Ada", "\xff", " \u200b", strings.Repeat("ä ", 60), "a\u2028b"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		n := cleanName(s)
		require.LessOrEqual(t, len([]rune(n)), maxWho)
		require.Equal(t, n, cleanName(n), "clean is clean")
		require.NotContains(t, n, "\n")
		got, err := url.QueryUnescape(url.QueryEscape(n))
		require.NoError(t, err)
		require.Equal(t, n, got)
	})
}
