package dashboard

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

func TestRoutes(t *testing.T) {
	with := newServer(testOptions(), steady().feed()).handler()
	without := newServer(testOptions(), snapshot.NewStore()).handler()
	old := testOptions()
	old.Now = func() time.Time { return noon.Add(time.Minute) }
	stopped := newServer(old, steady().feed()).handler()
	cases := []struct {
		name, path string
		h          http.Handler
		code       int
		kind       string
	}{
		{"page", "/", with, 200, "text/html; charset=utf-8"},
		{"page before the first tick", "/", without, 200, "text/html; charset=utf-8"},
		{"cautions", "/cautions", with, 200, "text/html; charset=utf-8"},
		{"limits", "/limits", with, 200, "text/html; charset=utf-8"},
		{"limits before the first tick", "/limits", without, 200, "text/html; charset=utf-8"},
		{"style", "/static/app.css", with, 200, "text/css; charset=utf-8"},
		{"script", "/static/live.js", with, 200, "text/javascript; charset=utf-8"},
		{"icon", "/static/icon.svg", with, 200, "image/svg+xml"},
		{"no listing", "/static/", with, 404, ""},
		{"no templates", "/templates/live.html", with, 404, ""},
		{"handbook", "/handbook", with, 200, "text/html; charset=utf-8"},
		{"alarm", "/alarms/inlet_low.act", with, 200, "text/html; charset=utf-8"},
		{"alarm before the first tick", "/alarms/inlet_low.act", without, 200, "text/html; charset=utf-8"},
		{"no such alarm", "/alarms/nothing", with, 404, "text/html; charset=utf-8"},
		{"line about alarms", "/standing", with, 200, "text/html; charset=utf-8"},
		{"line about alarms before the first tick", "/standing", without, 200, "text/html; charset=utf-8"},
		{"acts", "/api/v1/acts", with, 200, "application/json"},
		{"acts after no number", "/api/v1/acts?after=-1", with, 400, "application/json"},
		{"status", "/api/v1/status", with, 200, "application/json"},
		{"status before the first tick", "/api/v1/status", without, 503, "application/json"},
		{"events", "/api/v1/events", with, 200, "application/json"},
		{"events after no number", "/api/v1/events?after=x", with, 400, "application/json"},
		{"healthy", "/-/healthy", without, 200, ""},
		{"ready", "/-/ready", with, 200, ""},
		{"not ready", "/-/ready", without, 503, ""},
		{"no longer ready", "/-/ready", stopped, 503, ""},
		{"nothing", "/nothing", with, 404, ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			resp := get(t, c.h, c.path)
			require.Equal(t, c.code, resp.StatusCode)
			if c.kind != "" {
				require.Equal(t, c.kind, resp.Header.Get("Content-Type"))
			}
			require.Equal(t, policy, resp.Header.Get("Content-Security-Policy"))
			require.Equal(t, "nosniff", resp.Header.Get("X-Content-Type-Options"))
			require.Empty(t, resp.Header.Get("Access-Control-Allow-Origin"))
		})
	}
}

func TestPolicyForbidsFramesAndForeignSources(t *testing.T) {
	require.Contains(t, policy, "default-src 'self'")
	require.Contains(t, policy, "frame-ancestors 'none'")
	require.NotContains(t, policy, "unsafe")
}

func TestHosts(t *testing.T) {
	h := newServer(testOptions(), steady().feed()).handler()
	cases := []struct {
		host string
		code int
	}{
		{"localhost", 200}, {"localhost:8080", 200}, {"LOCALHOST.", 200}, {"127.0.0.1:8080", 200}, {"192.168.4.1", 200},
		{"[::1]:8080", 200}, {"[fe80::1%25eth0]:80", 200}, {"trailer.local", 200}, {"trailer.local:8080", 200},
		{"jetter.example", 200}, {"JETTER.example:8080", 200},
		{"attacker.example", 421}, {"local", 421}, {".local", 421}, {"trailer.local.attacker.example", 421},
		{"127.0.0.1.attacker.example", 421}, {"", 421}, {"localhost.attacker.example:8080", 421},
	}
	for _, c := range cases {
		for _, path := range []string{"/", "/api/v1/status", "/-/healthy", "/static/app.css"} {
			resp := get(t, h, path, func(r *http.Request) { r.Host = c.host })
			require.Equal(t, c.code, resp.StatusCode, "%s at %q", path, c.host)
		}
	}
}

func TestMetricsStandBehindTheSameCheck(t *testing.T) {
	opt := testOptions()
	opt.Metrics = http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusOK) })
	h := newServer(opt, steady().feed()).handler()
	require.Equal(t, 200, get(t, h, "/metrics").StatusCode)
	require.Equal(t, 421, get(t, h, "/metrics", func(r *http.Request) { r.Host = "attacker.example" }).StatusCode)
	require.Equal(t, 404, get(t, newServer(testOptions(), steady().feed()).handler(), "/metrics").StatusCode)
}

func TestOtherSitesCannotPost(t *testing.T) {
	h := newServer(testOptions(), steady().feed()).handler()
	post := func(origin string) int {
		r := httptest.NewRequest(http.MethodPost, "http://trailer.local/", strings.NewReader("units=US"))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", origin)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w.Code
	}
	require.Equal(t, http.StatusSeeOther, post("http://trailer.local"))
	require.Equal(t, http.StatusForbidden, post("http://attacker.example"))
}

func TestLargeBodyIsRefused(t *testing.T) {
	h := newServer(testOptions(), steady().feed()).handler()
	r := httptest.NewRequest(http.MethodPost, "http://localhost/", strings.NewReader("x="+strings.Repeat("y", maxBody)+"&units=US"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	require.Equal(t, http.StatusBadRequest, w.Code)
}

// A form that can't be read is none with empty fields: an empty library or note
// would be judged in its place, and the words would name the wrong mistake.
func TestFormThatCannotBeReadIsNotTakenAsEmpty(t *testing.T) {
	s, _ := morning(t)
	h := s.handler()
	for _, path := range []string{"/runs/1.1/note", "/", "/who", "/alarms/all/acknowledge", "/start/supply/keep"} {
		for _, body := range []string{"note=" + strings.Repeat("y", maxBody), "note=%zz"} {
			r := httptest.NewRequest(http.MethodPost, "http://localhost"+path, strings.NewReader(body))
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			require.Equal(t, http.StatusBadRequest, w.Code, path)
			require.Contains(t, w.Body.String(), "Cannot read the form", path)
		}
	}
}

func TestStaticIsAskedForOnce(t *testing.T) {
	h := newServer(testOptions(), steady().feed()).handler()
	tag := get(t, h, "/static/app.css").Header.Get("ETag")
	require.NotEmpty(t, tag)
	again := get(t, h, "/static/app.css", func(r *http.Request) { r.Header.Set("If-None-Match", tag) })
	require.Equal(t, http.StatusNotModified, again.StatusCode)
}

func TestStatusHasNullAndNeverZeroForTheUnknown(t *testing.T) {
	h := newServer(testOptions(), sensorLost().feed()).handler()
	var got struct {
		Channels []map[string]any
		Rules    []map[string]any
	}
	require.NoError(t, json.NewDecoder(get(t, h, "/api/v1/status").Body).Decode(&got))
	water := got.Channels[frame.WaterTemp]
	require.Equal(t, "failed", water["status"])
	require.Nil(t, water["value_kelvins"])
	require.Contains(t, water, "value_kelvins")
	rule := got.Rules[engine.WaterHot]
	for _, k := range []string{"value_kelvins", "limit_kelvins", "headroom_kelvins", "headroom_share", "to_limit_seconds"} {
		require.Contains(t, rule, k)
		require.Nil(t, rule[k], k)
	}
	require.Equal(t, "water_temp", rule["blame"])
}

func TestEventsAfter(t *testing.T) {
	h := newServer(testOptions(), starving().feed()).handler()
	var got struct{ Events []map[string]any }
	require.NoError(t, json.NewDecoder(get(t, h, "/api/v1/events?after=2").Body).Decode(&got))
	require.Len(t, got.Events, 1)
	require.Equal(t, "inlet_low.act", got.Events[0]["alarm"])
	require.Equal(t, 41e3, got.Events[0]["value_pascals"])
}

func TestScriptsOpenOneStreamAndReachNobodyElse(t *testing.T) {
	names, err := filepath.Glob("static/*.js")
	require.NoError(t, err)
	streams, sends := 0, map[string]int{}
	for _, name := range names {
		js, err := os.ReadFile(name)
		require.NoError(t, err)
		streams += strings.Count(string(js), "new EventSource(")
		if n := strings.Count(string(js), "fetch("); n > 0 {
			sends[filepath.Base(name)] = n
		}
		// A type in a comment is no import.
		code := regexp.MustCompile(`(?s)/\*\*.*?\*/`).ReplaceAllString(string(js), "")
		for _, not := range []string{"http:", "https:", "eval(", "localStorage", "import("} {
			require.NotContains(t, code, not, name)
		}
		for _, m := range regexp.MustCompile(`(?m)^import (?:.* from )?"([^"]*)";$`).FindAllStringSubmatch(string(js), -1) {
			require.FileExists(t, "static/"+strings.TrimPrefix(m[1], "./"))
		}
		require.Contains(t, string(js), "// @ts-check", name)
	}
	require.Equal(t, 1, streams)
	require.Equal(t, map[string]int{"acts.js": 1, "live.js": 1, "hold.js": 1, "renew.js": 1, "review.js": 1, "standing.js": 1, "trends.js": 1}, sends)
	css, err := os.ReadFile("static/app.css")
	require.NoError(t, err)
	require.NotRegexp(t, regexp.MustCompile(`url\(|@import|@font-face`), string(css))
}
