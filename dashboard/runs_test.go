package dashboard

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/exported"
	"headroom/daemon/review"
	"headroom/daemon/review/recordtest"
	"headroom/daemon/store"
	"headroom/rules/alarm"
)

// notedRecord is a record that takes notes beside it.
type notedRecord struct {
	*store.Reader
	notes []store.Act
}

func (n *notedRecord) ActsSince(ctx context.Context, boot uint64) ([]store.Act, error) {
	acts, err := n.Reader.ActsSince(ctx, boot)
	return append(acts, n.notes...), err
}

// morning is a dashboard over the record of a starved machine.
func morning(t *testing.T) (*server, *notedRecord) {
	return after(t, recordtest.Script{Scenario: "kinked_hose", Acts: []recordtest.Deed{
		{At: 100 * time.Second, Alarm: "inlet_low.act", Act: alarm.Acknowledge, Who: "Ada"},
	}})
}

// after is a dashboard over the record of a script.
func after(t *testing.T, script recordtest.Script) (*server, *notedRecord) {
	return over(t, recordtest.Play(t, script))
}

// over is a dashboard over a record.
func over(t *testing.T, dir string) (*server, *notedRecord) {
	r, err := store.OpenReader(dir)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, r.Close()) })
	rec := &notedRecord{Reader: r}
	opt := testOptions()
	opt.Now = func() time.Time { return recordtest.StartWall.Add(24 * time.Hour) }
	opt.Record = func() Recorded { return rec }
	opt.Note = func(_ context.Context, what, text, who string) error {
		rec.notes = append(rec.notes, store.Act{Boot: 1, What: what, Text: text, Who: who, Wall: noon})
		return nil
	}
	return newServer(opt, steady().feed()), rec
}

func pageText(t *testing.T, h http.Handler, path string, code int) string {
	resp := send(h, path, nil, nil)
	require.Equal(t, code, resp.StatusCode, path)
	body, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	return string(body)
}

func TestRunsAreListedAndFound(t *testing.T) {
	s, _ := morning(t)
	h := s.handler()
	list := pageText(t, h, "/runs", 200)
	require.Contains(t, list, `href="/runs/1.1"`)
	require.Contains(t, list, "May 2026")
	require.Contains(t, pageText(t, h, "/", 200), `href="/runs"`, "the way there")
	for path, found := range map[string]bool{
		"/runs?q=1.1": true, "/runs?q=inlet": true, "/runs?q=nowhere": false, "/runs?incidents=1": true,
		"/runs?from=2026-05-04&to=2026-05-04": true, "/runs?to=2026-05-03": false, "/runs?page=7": false, "/runs?page=-1": true,
		"/runs?page=368934881474191033": false, "/runs?page=99999999999999999999": false, // times runsPerPage it wraps around
	} {
		require.Equal(t, found, strings.Contains(pageText(t, h, path, 200), `href="/runs/1.1"`), path)
	}
	require.Contains(t, pageText(t, h, "/runs?from=yesterday", 200), "write it as 2026-11-25")
}

// TestAJamWithoutARunIsFound: the pump never turned, so there is no run, and
// still somebody asks the next morning what happened.
func TestAJamWithoutARunIsFound(t *testing.T) {
	s, _ := after(t, recordtest.Script{Scenario: "jam_at_start"})
	h := s.handler()
	for path, found := range map[string]bool{"/runs": true, "/runs?incidents=1": true, "/runs?q=start_jam": true, "/runs?q=demo": true, "/runs?q=nowhere": false} {
		require.Equal(t, found, strings.Contains(pageText(t, h, path, 200), `href="/runs/1.0"`), path)
	}
	require.Contains(t, pageText(t, h, "/runs", 200), "0 runs, 1 boot with alarms outside of runs")
	page := pageText(t, h, "/runs/1.0", 200)
	title := alarmTitle("start_jam.act")
	for _, want := range []string{"Boot 1", "Alarms outside of runs", title, "<svg class=\"sheet", "into the boot"} {
		require.Contains(t, page, want)
	}
	require.NotContains(t, page, "Water drawn", "a boot has no sums")
	require.NotContains(t, page, "into the run")
	for path, want := range map[string]string{
		"/runs/1.0/report": title, "/api/v1/runs/1.0": "start_jam.act", "/api/v1/runs/1.0/series?n=10": "motor_current",
		"/runs/1.0/export?format=csv": "motor_current", "/runs/1.0/whatif": "Boot 1", "/runs/compare": "Compare",
	} {
		require.Contains(t, pageText(t, h, path, 200), want, path)
	}
	var list struct {
		Runs []struct {
			Run, Kind string
			Incidents int
		}
	}
	require.NoError(t, json.Unmarshal([]byte(pageText(t, h, "/api/v1/runs", 200)), &list))
	require.Len(t, list.Runs, 1)
	require.Equal(t, "outside_runs", list.Runs[0].Kind)
	require.Positive(t, list.Runs[0].Incidents)
}

// What people did is found by who did it and what it was, in the run that it
// belongs to only.
func TestRunsAreFoundByWhatPeopleDid(t *testing.T) {
	s, rec := morning(t)
	run, err := rec.Run(t.Context(), store.RunID{Boot: 1, N: 1})
	require.NoError(t, err)
	for _, x := range []struct {
		name, q string
		act     store.Act
		found   bool
	}{
		{"who acknowledged", "Ada", store.Act{}, true},
		{"nobody", "Grace", store.Act{}, false},
		{"a round before the start", "checklist", store.Act{Boot: 1, T: run.Start - 10*time.Minute, Who: "Grace", What: "checklist", Text: "All done."}, true},
		{"who went it", "Grace", store.Act{Boot: 1, T: run.Start - 10*time.Minute, Who: "Grace", What: "checklist"}, true},
		{"its remark", "worn hose", store.Act{Boot: 1, T: run.Start + time.Second, Who: "Grace", What: "checklist", Text: "Remark: worn hose."}, true},
		{"the alarm that was put aside", "pump is starving", store.Act{Boot: 1, T: run.Start + time.Second, What: "shelve", Alarm: "inlet_low.act"}, true},
		{"after the run", "Grace", store.Act{Boot: 1, T: run.To + time.Minute, Who: "Grace", What: "checklist"}, false},
		{"long before", "Grace", store.Act{Boot: 1, T: run.From - beforeStart - time.Minute, Who: "Grace", What: "checklist"}, false},
		{"in another boot", "Grace", store.Act{Boot: 2, T: run.Start, Who: "Grace", What: "checklist"}, false},
		{"the name that a note begins with is no part of it", "Run 1.1: w", store.Act{Boot: 1, T: run.Start, Who: "Grace", What: noteAbout, Text: "Run 1.1: words"}, false},
		{"nor is it the word note", "note", store.Act{Boot: 1, T: run.Start, Who: "Grace", What: noteAbout, Text: "Run 1.1: words"}, false},
		{"a note on another run", "Grace", store.Act{Boot: 1, T: run.Start, Who: "Grace", What: noteAbout, Text: "Run 1.2: words"}, false},
	} {
		rec.notes = nil
		if x.act.What != "" {
			rec.notes = []store.Act{x.act}
		}
		page := pageText(t, s.handler(), "/runs?q="+url.QueryEscape(x.q), 200)
		require.Equal(t, x.found, strings.Contains(page, `href="/runs/1.1"`), x.name)
	}
}

func TestRunPageTellsShowsAndKeepsNotes(t *testing.T) {
	s, _ := morning(t)
	h := s.handler()
	page := pageText(t, h, "/runs/1.1", 200)
	for _, want := range []string{"What happened", "What the record can not tell", "Ada", "<svg class=\"sheet", "/runs/1.1/report", "chain"} {
		require.Contains(t, page, want)
	}
	resp := send(h, "/runs/1.1/note", url.Values{"note": {"hose was\nkinked <b>"}, "who": {"Grace"}}, nil)
	require.Equal(t, http.StatusSeeOther, resp.StatusCode)
	page = pageText(t, h, "/runs/1.1", 200)
	require.Contains(t, page, "hose was kinked &lt;b&gt;")
	require.Contains(t, pageText(t, h, "/runs?q=kinked", 200), `href="/runs/1.1"`)
	require.Equal(t, http.StatusBadRequest, send(h, "/runs/1.1/note", url.Values{"note": {" \n"}}, nil).StatusCode)
	for path, code := range map[string]int{
		"/runs/9.9": 404, "/runs/x": 404, "/runs/1": 404, "/api/v1/runs/9.9": 404, "/api/v1/runs?limit=0": 400, "/api/v1/runs/1.1/series?n=x": 400,
		"/runs/1.1/export?format=doc": 400, "/runs/1.1?from=NaN&to=Inf": 200, "/runs/1.1?from=5&to=5": 200, "/runs/1.1?from=1e300&to=-1e300": 200,
	} {
		pageText(t, h, path, code)
	}
}

// Every link below the chart leads to a page that draws something, down to a
// fifth of a second.
func TestZoomGoesAllTheWayIn(t *testing.T) {
	s, _ := morning(t)
	h := s.handler()
	path, seen := "/runs/1.1", map[string]bool{}
	for range 20 {
		page := pageText(t, h, path, 200)
		require.Contains(t, page, "<svg class=\"sheet", path)
		next := linkCalled(page, "Closer")
		if next == "" || seen[next] {
			break
		}
		seen[next] = true
		path = next
	}
	u, err := url.Parse(path)
	require.NoError(t, err)
	require.InDelta(t, 0.2, wishOf(t, u, "to")-wishOf(t, u, "from"), 0.05)
}

func wishOf(t *testing.T, u *url.URL, key string) float64 {
	var v float64
	require.NoError(t, json.Unmarshal([]byte(u.Query().Get(key)), &v))
	return v
}

// linkCalled returns where the link of that name leads.
func linkCalled(page, name string) string {
	before, _, ok := strings.Cut(page, ">"+name+"</a>")
	if !ok {
		return ""
	}
	_, href, _ := strings.Cut(before[strings.LastIndex(before, "<a "):], `href="`)
	href, _, _ = strings.Cut(href, `"`)
	return strings.ReplaceAll(href, "&amp;", "&")
}

func TestSpansStayInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sec := func(name string, lo, hi float64) time.Duration {
			return time.Duration(rapid.Float64Range(lo, hi).Draw(t, name) * float64(time.Second))
		}
		h := &review.Head{From: sec("from", 0, 1e5)}
		h.To = h.From + sec("length", 0, 1e5)
		h.Start = h.From
		s := span{sec("a", -2e5, 3e5), sec("b", -2e5, 3e5)}.within(h)
		for range 4 {
			require.GreaterOrEqual(t, s.from, h.From)
			require.LessOrEqual(t, s.to, h.To)
			require.GreaterOrEqual(t, s.to-s.from, min(leastSpan, h.To-h.From))
			s = s.moved(rapid.Float64Range(-2, 2).Draw(t, "shift"), rapid.Float64Range(0.1, 4).Draw(t, "scale")).within(h)
		}
	})
}

func TestReportCarriesItsStyleAndNoScript(t *testing.T) {
	s, _ := morning(t)
	resp := send(s.handler(), "/runs/1.1/report", nil, nil)
	require.Equal(t, 200, resp.StatusCode)
	require.Equal(t, reportPolicy, resp.Header.Get("Content-Security-Policy"))
	body, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	require.Contains(t, string(body), "<style>")
	require.NotContains(t, string(body), "<script")
}

func TestExportsAreRecordingsAgain(t *testing.T) {
	s, _ := morning(t)
	for _, format := range []string{"csv", "parquet"} {
		resp := send(s.handler(), "/runs/1.1/export?format="+format, nil, nil)
		require.Equal(t, 200, resp.StatusCode)
		require.Contains(t, resp.Header.Get("Content-Disposition"), "headroom-run-1.1."+format)
		body, err := io.ReadAll(resp.Body)
		require.NoError(t, err)
		path := filepath.Join(t.TempDir(), "run."+format)
		require.NoError(t, os.WriteFile(path, body, 0o600))
		f, err := exported.Open(path)
		require.NoError(t, err)
		require.NotNil(t, f)
	}
}

func TestWhatIfAndCompare(t *testing.T) {
	s, _ := morning(t)
	h := s.handler()
	same := pageText(t, h, "/runs/1.1/whatif?set="+url.QueryEscape("# nothing"), 200)
	require.Contains(t, same, "No difference")
	off := pageText(t, h, "/runs/1.1/whatif?set="+url.QueryEscape(`rules.inlet_low.act = "1 psi"`+"\n"+`rules.inlet_low.warn = "2 psi"`), 200)
	require.Contains(t, off, "Inlet")
	require.Contains(t, pageText(t, h, "/runs/1.1/whatif?set=nonsense", 200), "nonsense")
	require.Contains(t, pageText(t, h, "/runs/compare?a=1.1&b=1.1", 200), "Side by side")
	require.Contains(t, pageText(t, h, "/runs/compare?a=1.1&b=4.4", 200), "no such run")
}

func TestRunsForPrograms(t *testing.T) {
	s, _ := morning(t)
	h := s.handler()
	var list struct {
		Runs []struct{ Run string }
	}
	require.NoError(t, json.Unmarshal([]byte(pageText(t, h, "/api/v1/runs", 200)), &list))
	require.Equal(t, "1.1", list.Runs[0].Run)
	var got struct {
		FromS    float64 `json:"from_s"`
		ToS      float64 `json:"to_s"`
		Channels []struct {
			Channel  string
			Min, Max []*float64
		}
	}
	require.NoError(t, json.Unmarshal([]byte(pageText(t, h, "/api/v1/runs/1.1/series?n=40&from=0&to=20", 200)), &got))
	require.InDelta(t, 20, got.ToS-got.FromS, 0.01)
	require.NotEmpty(t, got.Channels)
	require.Len(t, got.Channels[0].Min, 40)
	require.True(t, json.Valid([]byte(pageText(t, h, "/api/v1/runs/1.1", 200))))
}

func TestNoRecordIsSaid(t *testing.T) {
	opt := testOptions()
	opt.Record = func() Recorded { return nil }
	h := newServer(opt, steady().feed()).handler()
	require.Contains(t, pageText(t, h, "/runs", 503), "can&#39;t be read now")
	require.Contains(t, pageText(t, h, "/api/v1/runs", 503), "error")
}

// With all turns taken a reader is told so after a while; one who leaves before
// waits no longer, and a turn that is given back goes to whoever waits.
func TestTooManyReadersAreToldSo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLooks()
		var leave func()
		for range maxLooks {
			var err error
			leave, err = l.enter(t.Context())
			require.NoError(t, err)
		}
		start := time.Now()
		_, err := l.enter(t.Context())
		require.ErrorIs(t, err, errBusy)
		require.Equal(t, 15*time.Second, time.Since(start))

		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		start = time.Now()
		_, err = l.enter(ctx)
		require.ErrorIs(t, err, context.DeadlineExceeded)
		require.Equal(t, time.Second, time.Since(start))

		time.AfterFunc(2*time.Second, leave)
		start = time.Now()
		_, err = l.enter(t.Context())
		require.NoError(t, err)
		require.Equal(t, 2*time.Second, time.Since(start))
	})
}

// stuck is a reader who takes nothing of what is sent.
type stuck struct {
	http.ResponseWriter
	began, end chan struct{}
}

func (s stuck) Write([]byte) (int, error) {
	s.began <- struct{}{}
	<-s.end
	return 0, io.ErrClosedPipe
}

// TestSlowDownloadsLockNobodyOut: with as many of them as there may be the pages
// of runs are read, and one download more is told to come again.
func TestSlowDownloadsLockNobodyOut(t *testing.T) {
	s, _ := morning(t)
	h := s.handler()
	slow := stuck{began: make(chan struct{}), end: make(chan struct{})}
	gone := make(chan any, maxExports)
	for range maxExports {
		go func() {
			defer func() { gone <- recover() }()
			slow := slow
			slow.ResponseWriter = httptest.NewRecorder()
			h.ServeHTTP(slow, httptest.NewRequest(http.MethodGet, "http://127.0.0.1/runs/1.1/export?format=csv", nil))
		}()
		<-slow.began
	}
	require.Contains(t, pageText(t, h, "/runs", 200), "Run 1.1")
	require.Contains(t, pageText(t, h, "/runs/1.1", 200), "What happened")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := s.looks.enterExport(ctx)
	require.ErrorIs(t, err, context.Canceled, "no third place")
	close(slow.end)
	for range maxExports {
		require.Equal(t, http.ErrAbortHandler, <-gone)
	}
	require.Contains(t, pageText(t, h, "/runs/1.1/export?format=csv", 200), "motor_current", "the places are free again")
}

func TestSeasonDrawsDaysWithAlarms(t *testing.T) {
	runs := []store.Run{
		{ID: store.RunID{Boot: 1, N: 1}, StartWall: noon, Incidents: 1}, {ID: store.RunID{Boot: 1, N: 2}, StartWall: noon.AddDate(0, -2, 0)},
		{ID: store.RunID{Boot: 1, N: 3}, StartWall: time.Unix(9, 0)},
	}
	svg, months := season(runs, noon.Add(time.Hour))
	require.Len(t, months, 2)
	require.Equal(t, "March 2026", months[0].Name)
	require.Contains(t, months[0].Text, "1 with an alarm of weight")
	require.Equal(t, 1, strings.Count(string(svg), `class="weight"`))
	require.Equal(t, 2, strings.Count(string(svg), `class="runs"`))
	// A motor that never began to turn is no run, and its day is marked.
	svg, months = season(append(runs, store.Run{ID: store.RunID{Boot: 2}, StartWall: noon.AddDate(0, -2, 0), Incidents: 1}), noon.Add(time.Hour))
	require.Equal(t, 2, strings.Count(string(svg), `class="weight"`))
	require.Equal(t, "1 run, 1 boot with an alarm of weight outside of runs", months[1].Text)
}

func BenchmarkRunPage(b *testing.B) {
	dir := recordtest.Play(b, recordtest.Script{Scenario: "kinked_hose"})
	r, err := store.OpenReader(dir)
	require.NoError(b, err)
	defer func() { require.NoError(b, r.Close()) }()
	opt := testOptions()
	opt.Record = func() Recorded { return r }
	h := newServer(opt, steady().feed()).handler()
	for b.Loop() {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://127.0.0.1/runs/1.1", nil))
		require.Equal(b, 200, w.Code)
	}
}
