package dashboard

import (
	"bufio"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/access"
	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// spec is the part of the document that the tests walk.
type spec struct {
	OpenAPI    string                          `json:"openapi"`
	Paths      map[string]map[string]operation `json:"paths"`
	Components struct {
		Schemas map[string]*schema `json:"schemas"`
	} `json:"components"`
}

type operation struct {
	OperationID string `json:"operationId"`
	Responses   map[string]struct {
		Content map[string]struct{ Schema *schema } `json:"content"`
	} `json:"responses"`
}

type schema struct {
	Ref         string             `json:"$ref"`
	Type        any                `json:"type"`
	Description string             `json:"description"`
	Properties  map[string]*schema `json:"properties"`
	Required    []string           `json:"required"`
	Items       *schema            `json:"items"`
	Enum        []string           `json:"enum"`
	Additional  json.RawMessage    `json:"additionalProperties"`
}

func readSpec(t *testing.T) *spec {
	var s spec
	require.NoError(t, json.Unmarshal(openAPI, &s))
	return &s
}

// walker holds an answer against its schema, and remembers what it saw.
type walker struct {
	t    *testing.T
	spec *spec
	seen map[string]bool // schema.key
}

func (w *walker) types(s *schema) []string {
	switch v := s.Type.(type) {
	case string:
		return []string{v}
	case []any:
		var out []string
		for _, x := range v {
			out = append(out, x.(string))
		}
		return out
	}
	return nil
}

func (w *walker) check(s *schema, name string, v any, at string) {
	if s.Ref != "" {
		name = strings.TrimPrefix(s.Ref, "#/components/schemas/")
		s = w.spec.Components.Schemas[name]
		require.NotNil(w.t, s, "%s names the schema %q, which isn't there", at, name)
	}
	require.Contains(w.t, w.types(s), typeOf(v, w.types(s)), "%s", at)
	switch v := v.(type) {
	case map[string]any:
		w.object(s, name, v, at)
	case []any:
		for i, x := range v {
			w.check(s.Items, name, x, fmt.Sprintf("%s[%d]", at, i))
		}
	case string:
		if len(s.Enum) > 0 {
			require.Contains(w.t, s.Enum, v, at)
		}
	}
}

func (w *walker) object(s *schema, name string, v map[string]any, at string) {
	for _, k := range s.Required {
		require.Contains(w.t, v, k, "%s lacks a key that the document promises", at)
	}
	for k, x := range v {
		p, ok := s.Properties[k]
		if !ok && len(s.Additional) > 0 && string(s.Additional) != "false" {
			p = &schema{}
			require.NoError(w.t, json.Unmarshal(s.Additional, p))
			ok = true
		}
		require.True(w.t, ok, "%s.%s stands in the answer and not in the document", at, k)
		w.seen[name+"."+k] = true
		w.check(p, name+"."+k, x, at+"."+k)
	}
}

func typeOf(v any, allowed []string) string {
	switch v := v.(type) {
	case nil:
		return "null"
	case bool:
		return "boolean"
	case string:
		return "string"
	case float64:
		if v == math.Trunc(v) && slices.Contains(allowed, "integer") {
			return "integer"
		}
		return "number"
	case []any:
		return "array"
	}
	return "object"
}

// answer checks one answer of an operation.
func (w *walker) answer(method, path string, code int, body []byte) {
	w.t.Helper()
	op, ok := w.spec.Paths[path][method]
	require.True(w.t, ok, "%s %s isn't in the document", method, path)
	resp, ok := op.Responses[fmt.Sprint(code)]
	require.True(w.t, ok, "%s %s answered %d, which the document doesn't know: %s", method, path, code, body)
	var v any
	require.NoError(w.t, json.Unmarshal(body, &v))
	w.check(resp.Content["application/json"].Schema, path, v, path)
}

func (w *walker) get(h http.Handler, path, target string) {
	resp := get(w.t, h, target)
	w.answer("get", path, resp.StatusCode, []byte(text(w.t, resp)))
}

// Every route below /api/v1 is in the document, and the other way round.
func TestDocumentHasEveryRoute(t *testing.T) {
	names, err := filepath.Glob("*.go")
	require.NoError(t, err)
	served := map[string]bool{}
	for _, name := range names {
		src, err := os.ReadFile(name)
		require.NoError(t, err)
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		for _, m := range regexp.MustCompile(`"(GET|POST|PUT|DELETE) (/api/[^"]+)"`).FindAllStringSubmatch(string(src), -1) {
			served[strings.ToLower(m[1])+" "+m[2]] = true
		}
	}
	s := readSpec(t)
	require.Equal(t, "3.1.0", s.OpenAPI)
	documented := map[string]bool{}
	for path, ops := range s.Paths {
		for method, op := range ops {
			documented[method+" "+path] = true
			require.NotEmpty(t, op.OperationID)
		}
	}
	require.Equal(t, served, documented)
	for name, sc := range s.Components.Schemas {
		require.NotEmpty(t, sc.Description, name)
		for k, p := range sc.Properties {
			require.True(t, p.Ref != "" || p.Description != "", "%s.%s isn't explained", name, k)
			require.Equal(t, strings.ToLower(k), k)
		}
		for _, k := range sc.Required {
			require.Contains(t, sc.Properties, k, name)
		}
	}
	require.JSONEq(t, string(openAPI), text(t, get(t, newServer(testOptions(), steady().feed()).handler(), "/api/v1/openapi.json")))
}

// Every field that is answered stands in the document, and every field that is
// documented is answered in one scene or another.
func TestDocumentIsWhatIsAnswered(t *testing.T) {
	w := &walker{t: t, spec: readSpec(t), seen: map[string]bool{}}
	all := scenes()
	all["cavitation"] = steady()
	all["cavitation"].watch(engine.Cavitation, 1)
	all["every rule"] = everyRule()
	for _, sc := range all {
		h := newServer(testOptions(), sc.feed()).handler()
		w.get(h, "/api/v1/status", "/api/v1/status")
		w.get(h, "/api/v1/events", "/api/v1/events")
		w.get(h, "/api/v1/acts", "/api/v1/acts")
	}
	w.get(newServer(testOptions(), &fakeFeed{Store: steady().feed().Store}).handler(), "/api/v1/events", "/api/v1/events?after=x")
	w.get(newServer(testOptions(), &fakeFeed{Store: snapshot.NewStore()}).handler(), "/api/v1/status", "/api/v1/status")
	w.acts()
	w.session()
	w.page()
	w.runs()
	w.trend()
	w.bench()
	var never []string
	for name, s := range w.spec.Components.Schemas {
		for k := range s.Properties {
			if !w.seen[name+"."+k] && !sparse[name] {
				never = append(never, name+"."+k)
			}
		}
	}
	require.Empty(t, never, "documented and never answered")
}

// sparse are the schemas with a key for each unit, of which a rule has one.
var sparse = map[string]bool{"Rule": true, "Event": true, "Used": true}

// everyRule is a machine in which every rule judges.
func everyRule() *scene {
	s := steady()
	for r := range engine.NumRules {
		v := &s.snap.Verdicts.Rules[r]
		*v = engine.Verdict{Rule: r, Judge: engine.Watching, Blame: frame.NumChannels, About: frame.InletPressure, Value: 1, Limit: 2}
		s.alarm(engine.ActAlarm(r), engine.Act, time.Second, false)
	}
	return s
}

func (w *walker) acts() {
	m, h := starved(w.t, false)
	for _, c := range []struct{ target, shelf string }{
		{"inlet_low.act/shelve", "15m"}, {"inlet_low.act/unshelve", ""}, {"inlet_low.act/acknowledge", ""}, {"inlet_low.act/acknowledge", ""},
		{"nothing/acknowledge", ""}, {"inlet_low.act/melt", ""}, {"inlet_low.act/shelve", "9 years"},
	} {
		resp := post(h, "/api/v1/alarms/"+c.target, url.Values{"shelf": {c.shelf}, "who": {"Ada"}})
		w.answer("post", "/api/v1/alarms/{name}/{act}", resp.StatusCode, []byte(text(w.t, resp)))
	}
	w.get(h, "/api/v1/acts", "/api/v1/acts")
	w.get(h, "/api/v1/status", "/api/v1/status")
	opt := m.options()
	opt.Acts = nil
	resp := post(New(opt), "/api/v1/alarms/inlet_low.act/acknowledge", nil)
	w.answer("post", "/api/v1/alarms/{name}/{act}", resp.StatusCode, []byte(text(w.t, resp)))
}

func (w *walker) session() {
	h, dir := gatedServer(w.t, false)
	pin, err := access.NewPIN(dir)
	require.NoError(w.t, err)
	for _, try := range []string{pin, "x"} {
		resp := send(h, "/api/v1/session", url.Values{"pin": {try}}, nil)
		w.answer("post", "/api/v1/session", resp.StatusCode, []byte(text(w.t, resp)))
	}
	resp := send(h, "/api/v1/alarms/all/acknowledge", url.Values{}, nil)
	w.answer("post", "/api/v1/alarms/{name}/{act}", resp.StatusCode, []byte(text(w.t, resp)))
}

// runs checks what programs read of the record.
func (w *walker) runs() {
	s, _ := morning(w.t)
	h := s.handler()
	for target, path := range map[string]string{
		"/api/v1/runs": "/api/v1/runs", "/api/v1/runs?limit=x": "/api/v1/runs",
		"/api/v1/runs/1.1": "/api/v1/runs/{run}", "/api/v1/runs/9.9": "/api/v1/runs/{run}",
		"/api/v1/runs/1.1/series": "/api/v1/runs/{run}/series", "/api/v1/runs/1.1/series?n=x": "/api/v1/runs/{run}/series", "/api/v1/runs/9.9/series": "/api/v1/runs/{run}/series",
	} {
		w.get(h, path, target)
	}
	s.opt.Record = func() Recorded { return nil }
	w.get(h, "/api/v1/runs", "/api/v1/runs")
	w.get(h, "/api/v1/runs/{run}", "/api/v1/runs/1.1")
}

// page checks the first messages of both kinds of stream.
func (w *walker) page() {
	srv := httptest.NewServer(newServer(testOptions(), starving().feed()).handler())
	defer srv.Close()
	defer srv.CloseClientConnections()
	for view, name := range map[string]string{"page": "PageTick", "": "Status"} {
		resp, err := http.Get(srv.URL + "/api/v1/stream?after=1-0&view=" + view)
		require.NoError(w.t, err)
		lines := bufio.NewScanner(resp.Body)
		lines.Buffer(nil, 1<<20)
		event := ""
		for lines.Scan() {
			if e, ok := strings.CutPrefix(lines.Text(), "event: "); ok {
				event = e
			}
			data, ok := strings.CutPrefix(lines.Text(), "data: ")
			if !ok {
				continue
			}
			var v any
			require.NoError(w.t, json.Unmarshal([]byte(data), &v))
			if event == "alarm" {
				w.check(&schema{Ref: "#/components/schemas/Event"}, "", v, "stream")
			}
			if event == "tick" {
				w.check(&schema{Ref: "#/components/schemas/" + name}, "", v, "stream")
				break
			}
		}
		require.NoError(w.t, resp.Body.Close())
	}
}

// The keys that tell a unit are those that a rule or a number can have, and no
// others.
func TestDocumentHasTheUnitsThatThereAre(t *testing.T) {
	value, room, used := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for r := range engine.NumRules {
		value[unitName(r.Spec().Quantity)], room[unitName(r.Spec().Difference)] = true, true
	}
	for term := engine.Term(0); term.String() != engine.Term(255).String(); term++ {
		used[unitName(term.Quantity())] = true
	}
	all := readSpec(t).Components.Schemas
	for _, c := range []struct {
		schema, prefix string
		want           map[string]bool
	}{
		{"Rule", "value_", value}, {"Rule", "limit_", value}, {"Rule", "headroom_", room}, {"Event", "value_", value}, {"Event", "limit_", value},
	} {
		got := map[string]bool{}
		for k := range all[c.schema].Properties {
			if u, ok := strings.CutPrefix(k, c.prefix); ok && u != "share" && k != "limit_source" {
				got[u] = true
			}
		}
		require.Equal(t, c.want, got, "%s.%s", c.schema, c.prefix)
	}
	got := map[string]bool{}
	for k := range all["Used"].Properties {
		if k != "term" && k != "assumed" {
			got[k] = true
		}
	}
	require.Equal(t, used, got)
}
