package dashboard

import (
	"errors"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/checklist"
	"headroom/daemon/snapshot"
	"headroom/rules/frame"
	"headroom/sensors/calibrate"
)

func (d *day) handler(sc *scene) http.Handler { return newServer(d.opt, sc.feed()).handler() }

// form posts to the dashboard as Ada.
func form(h http.Handler, path string, kv ...string) *http.Response {
	v := url.Values{"who": {"Ada"}}
	for i := 0; i+1 < len(kv); i += 2 {
		v.Set(kv[i], kv[i+1])
	}
	return send(h, path, v, nil)
}

func TestEveryPageHasTheNavigationAndOneHeading(t *testing.T) {
	h := newDay(t).handler(steady())
	for name, path := range dayPages {
		resp := get(t, h, path)
		page := text(t, resp)
		if name != "refused" {
			require.Equal(t, http.StatusOK, resp.StatusCode, path)
		}
		require.Equal(t, 1, strings.Count(page, "<h1"), path)
		for _, n := range []string{`href="/"`, `href="/start"`, `href="/setup"`, `href="/handbook"`, `<html lang="en">`, "<main"} {
			require.Contains(t, page, n, path)
		}
		require.NotContains(t, page, "style=", path)
	}
}

func TestCalibrationByForms(t *testing.T) {
	d := newDay(t)
	h := d.handler(steady())
	const path = "/calibration/inlet_pressure"
	page := func() string { return plain(text(t, get(t, h, path))) }
	step := func(name string, kv ...string) {
		t.Helper()
		resp := form(h, path+"/"+name, append(kv, "mark", "m")...)
		require.Equal(t, http.StatusSeeOther, resp.StatusCode, "%s: %s", name, text(t, resp))
		require.True(t, strings.HasPrefix(resp.Header.Get("Location"), path))
	}
	require.Contains(t, page(), "None: the sensor's own scale is in use")
	require.NotContains(t, page(), "Undo")
	step("begin")
	require.Contains(t, page(), "Inlet pressure is not watched meanwhile")
	step("choose", "method", "two-point")
	refused := form(h, path+"/take", "mark", "m", "reference", "0")
	require.Equal(t, http.StatusConflict, refused.StatusCode)
	require.Contains(t, plain(text(t, refused)), "the reading isn&#39;t steady")
	d.cal.steady(frame.InletPressure, 2e3)
	require.Contains(t, page(), "2.00 kPa")
	require.Contains(t, page(), "steady: a point may be taken")
	step("take", "reference", "0")
	d.cal.steady(frame.InletPressure, 402e3)
	bad := form(h, path+"/take", "mark", "m", "reference", "58 gpm")
	require.Equal(t, http.StatusConflict, bad.StatusCode, "a unit of something else")
	step("take", "reference", "58.6 psi") // 404 033 Pa; source: 1 psi = 6894.757 Pa
	require.Contains(t, page(), "404.03 kPa")
	require.Equal(t, http.StatusConflict, form(h, path+"/confirm", "mark", "m", "days", "for ever").StatusCode)
	require.Equal(t, http.StatusConflict, form(h, path+"/confirm", "mark", "other", "days", "30").StatusCode, "somebody else's step")
	step("confirm", "days", "30", "instrument", "gauge\x1b\n 7\u202e")
	require.Contains(t, page(), "two points in use")
	require.Contains(t, page(), "By Ada, against gauge 7. Holds until 2026-04-01.")
	require.Len(t, d.notes, 1)
	require.Equal(t, "calibration", d.notes[0].what)
	require.Equal(t, "Ada", d.notes[0].who)
	require.Contains(t, d.notes[0].text, "Inlet pressure: two points; point 1: sensor 2000, reference 0")

	undo := func() *http.Response {
		seen := regexp.MustCompile(`/undo"[^>]*>\s*<input type="hidden" name="mark" value="([^"]+)">`).FindStringSubmatch(text(t, get(t, h, path)))
		require.NotNil(t, seen, "the form names what the person sees as the newest")
		return form(h, path+"/undo", "mark", seen[1])
	}
	require.Contains(t, page(), "In use afterwards: the sensor&#39;s own scale")
	require.Equal(t, http.StatusConflict, form(h, path+"/undo", "mark", "0-0").StatusCode, "what an older page showed")
	require.Len(t, d.notes, 1)
	require.Equal(t, http.StatusSeeOther, undo().StatusCode)
	require.Len(t, d.notes, 2)
	require.Contains(t, d.notes[1].text, "undone")
	all, err := d.cal.History(frame.InletPressure)
	require.NoError(t, err)
	require.Len(t, all, 2, "nothing is deleted")
	require.Equal(t, http.StatusConflict, form(h, path+"/undefined", "mark", "m").StatusCode)
	require.Equal(t, http.StatusNotFound, form(h, "/calibration/nothing/begin").StatusCode)
}

func TestCalibrationThatCannotBeRecordedSaysThatItIsInUse(t *testing.T) {
	d := newDay(t)
	d.noteErr = errors.New("the disk is full")
	require.NoError(t, d.cal.Begin(frame.Flow, "Ada"))
	require.NoError(t, d.cal.Next(frame.Flow, "m", calibrate.Choose{Method: calibrate.None}))
	resp := form(d.handler(steady()), "/calibration/flow/confirm", "mark", "m", "days", "30")
	page := plain(text(t, resp))
	require.Contains(t, page, "The calibration is in use, but the record of the run could not take it: the disk is full")
	require.Contains(t, page, "no correction in use")
}

func TestSetupTellsWhatStandsBehindAValue(t *testing.T) {
	d := newDay(t)
	page := plain(text(t, get(t, d.handler(sensorLost()), "/setup")))
	for _, want := range []string{"signal 1.2345 V, 24.7 % of supply", "never calibrated here", "open circuit, 2.1 mA", "Try the outputs", "Not fitted:", "asks nobody for a PIN", "a practice"} {
		require.Contains(t, page, want)
	}
	old := calibrate.Calibration{Channel: "flow", Method: calibrate.None, Date: noon.AddDate(-2, 0, 0), Who: "Ada", ValidDays: 365}
	require.NoError(t, d.cal.store.Append(old))
	require.Contains(t, plain(text(t, get(t, d.handler(steady()), "/setup"))), "calibration of 2024-03-02 is out of date")
	undone := calibrate.Calibration{Channel: "flow", Method: calibrate.None, Date: noon, Who: "Bo", ValidDays: 3660, Undone: true}
	require.NoError(t, d.cal.store.Append(undone))
	setup := plain(text(t, get(t, d.handler(steady()), "/setup")))
	require.Contains(t, setup, "not calibrated: the only one was undone on 2026-03-02 by Bo")
	require.NotContains(t, setup, "holds until")
	history := plain(text(t, get(t, d.handler(steady()), "/calibration/flow")))
	require.Contains(t, history, "2026-03-02: the sensor&#39;s own scale, not calibrated in use")
	require.NotContains(t, history, "Holds until 2036")
	d.opt.Calibrator, d.opt.Outputs = nil, nil
	bare := plain(text(t, get(t, d.handler(steady()), "/setup")))
	require.NotContains(t, bare, "Calibrate")
	require.Contains(t, bare, "No output is driven here")
	require.Equal(t, http.StatusNotFound, get(t, d.handler(steady()), "/calibration/flow").StatusCode)
}

func TestChecklistRound(t *testing.T) {
	d := newDay(t)
	h := d.handler(steady())
	list, err := d.opt.Checklist.List()
	require.NoError(t, err)
	key := listKey(list)
	resp := form(h, "/start/checklist", "list", key, "item0", "done", "item1", "not_here", "remark", "oil topped up")
	require.Equal(t, "/start?said=round", resp.Header.Get("Location"))
	require.Len(t, d.notes, 1)
	require.Equal(t, "checklist", d.notes[0].what)
	require.Contains(t, d.notes[0].text, "1 of 10 points confirmed. Not confirmed: Supply run clear")
	require.Contains(t, d.notes[0].text, "Remark: oil topped up")
	page := plain(text(t, get(t, h, "/start?said=round")))
	require.Contains(t, page, "by Ada: 1 of 10 points confirmed")
	require.Contains(t, page, "Written into the record")
	require.NotContains(t, plain(text(t, get(t, h, "/start?said=Hello"))), "Hello", "an address puts no words on the page")

	require.Equal(t, http.StatusSeeOther, form(h, "/start/list", "text", "Oil | it seizes\nRope").StatusCode)
	require.Contains(t, plain(text(t, get(t, h, "/start"))), "Rope")
	old := form(h, "/start/checklist", "list", key, "item0", "done")
	require.Equal(t, http.StatusConflict, old.StatusCode, "ticks meant for another list")
	bad := form(h, "/start/list", "text", "Oil\nOil")
	require.Equal(t, http.StatusBadRequest, bad.StatusCode)
	require.Contains(t, text(t, bad), "Oil\nOil", "what was written isn't lost")
	require.Equal(t, http.StatusSeeOther, form(h, "/start/list", "usual", "1").StatusCode)
	list, err = d.opt.Checklist.List()
	require.NoError(t, err)
	require.Equal(t, checklist.Default(false), list)

	d.noteErr = errors.New("the disk is full")
	resp = form(h, "/start/checklist", "list", listKey(list))
	require.Equal(t, http.StatusConflict, resp.StatusCode)
	require.Contains(t, plain(text(t, resp)), "The disk is full")
}

func TestSupplyTestStepByStep(t *testing.T) {
	d := newDay(t)
	sc := steady()
	sc.points = 0
	feed := sc.feed()
	h := newServer(d.opt, feed).handler()
	require.Contains(t, plain(text(t, get(t, h, "/start/supply"))), "waiting for more readings")
	early := get(t, h, "/start/supply?take=static")
	require.Contains(t, plain(text(t, early)), "Cannot take the inlet pressure yet: waiting for more readings")

	stand := func(pressurePa, flowM3s float64) {
		for range 40 {
			p := *feed.Latest()
			p.Seq, p.Mono = p.Seq+1, p.Mono+100*time.Millisecond
			ripple := []float64{1, -1, -1, 1}[p.Seq%4]
			p.Verdicts.Samples[frame.InletPressure].Value = pressurePa + 200*ripple
			p.Verdicts.Samples[frame.Flow].Value = flowM3s + 1e-7*ripple
			feed.Publish(&p)
		}
	}
	take := func(path string) string {
		t.Helper()
		resp := get(t, h, path)
		require.Equal(t, http.StatusSeeOther, resp.StatusCode, plain(text(t, resp)))
		return resp.Header.Get("Location")
	}
	// A pressure that is read while water runs is none without flow; a gauge that
	// somebody read before is. Source: the steps of the test itself.
	stand(300e3, 12*lpm)
	runs := get(t, h, "/start/supply?take=static")
	require.Equal(t, http.StatusOK, runs.StatusCode)
	require.Contains(t, plain(text(t, runs)), "Cannot take the pressure without flow: water is running")
	require.Contains(t, take("/start/supply?take=static&pressure=410+kPa"), "static=410")
	stand(420e3, 0)
	at := take("/start/supply?take=static")
	require.Equal(t, "/start/supply?static=420.0+kPa", at)
	stand(300e3, 12*lpm)
	at = take(at + "&take=flowing")
	require.Contains(t, at, url.QueryEscape("12.00 L/min @ 300.0 kPa"))
	require.Contains(t, plain(text(t, get(t, h, at))), "Once more with another flow")
	// A bucket of 10 L in 30 s is 20 L/min; source: arithmetic.
	at = take(at + "&take=flowing&bucket=10+L&seconds=30&pressure=200+kPa")
	require.Contains(t, at, url.QueryEscape("20.00 L/min @ 200 kPa"))
	verdict := plain(text(t, get(t, h, at)))
	require.Contains(t, verdict, "It is just enough.")
	require.Contains(t, verdict, "20.00 L/min @ 200 kPa")

	q := strings.TrimPrefix(at, "/start/supply?")
	kept := form(h, "/start/supply/keep", "test", q)
	require.Equal(t, http.StatusSeeOther, kept.StatusCode)
	require.Equal(t, []noted{{"supply_test", "It is just enough. Without flow 420.0 kPa; 12.00 L/min at 300.0 kPa; 20.00 L/min at 200 kPa.", "Ada"}}, d.notes)
	require.Equal(t, http.StatusConflict, form(h, "/start/supply/keep", "test", "static=1").StatusCode, "half a test")
	for _, bad := range []string{"take=static&pressure=4+gpm", "static=1+kPa&take=flowing&bucket=10+L&seconds=0&pressure=1+kPa", "static=1+kPa&take=flowing&bucket=x&seconds=9&pressure=1+kPa",
		"static=1+kPa&flowing=a&flowing=b&take=flowing&flow=1+L%2Fmin&pressure=1+kPa"} {
		resp := get(t, h, "/start/supply?"+bad)
		require.Equal(t, http.StatusOK, resp.StatusCode, bad)
		require.Contains(t, text(t, resp), `class="refused"`, bad)
	}
	d.opt.Adviser = fakeAdviser{err: errors.New("“Static” is missing")}
	require.Contains(t, plain(text(t, get(t, d.handler(steady()), at))), "“Static” is missing.")
}

func TestSupplyTestDoesNotTakeWhatIsNotGood(t *testing.T) {
	d := newDay(t)
	sc := steady()
	sc.snap.Verdicts.Samples[frame.InletPressure] = frame.Sample{Status: frame.Failed}
	require.Contains(t, plain(text(t, get(t, d.handler(sc), "/start/supply?take=static"))), "read your own gauge")
	d.opt.Now = func() time.Time { return noon.Add(time.Hour) }
	require.Contains(t, plain(text(t, get(t, d.handler(steady()), "/start/supply?take=static"))), "nothing is being read now")
	require.Contains(t, plain(text(t, get(t, newServer(d.opt, &fakeFeed{Store: snapshot.NewStore()}).handler(), "/start/supply"))), "nothing has been read yet")
}

func TestOutputsByForms(t *testing.T) {
	d := newDay(t)
	h := d.handler(steady())
	require.Equal(t, "/setup/outputs?said=held", form(h, "/setup/outputs/beacon/hold").Header.Get("Location"))
	require.Equal(t, http.StatusSeeOther, form(h, "/setup/outputs/stop/reset").StatusCode)
	form(h, "/setup/outputs/beacon/release")
	require.Equal(t, []string{"hold beacon", "reset", "release beacon"}, d.outputs.did)
	trial := noted{"output_trial", "Trial of the beacon from the dashboard, no alarm", "Ada"}
	require.Equal(t, trial, d.notes[0])
	require.Equal(t, "stop_reset", d.notes[1].what)
	held := func(press string) {
		send(h, "/setup/outputs/stop/hold", url.Values{"who": {"Ada"}}, func(r *http.Request) { r.Header.Set("X-Held", press) })
	}
	for range 3 {
		held("p1")
	}
	require.Len(t, d.notes, 3, "one press of a script is noted once")
	held("p2")
	require.Equal(t, "Trial of the stop relay from the dashboard, no alarm", d.notes[3].text)
	require.Equal(t, http.StatusNotFound, form(h, "/setup/outputs/beacon/melt").StatusCode)
	d.outputs.err = errors.New("the machine runs")
	resp := form(h, "/setup/outputs/beacon/hold")
	require.Equal(t, http.StatusConflict, resp.StatusCode)
	require.Contains(t, plain(text(t, resp)), "The machine runs.")
	require.Len(t, d.notes, 4, "what was refused isn't written down as done")
}

func TestHandbookManuals(t *testing.T) {
	d := newDay(t)
	h := d.handler(steady())
	physics := text(t, get(t, h, "/handbook/physics"))
	require.Contains(t, physics, `<h2 id="s-water">Water</h2>`)
	require.Contains(t, physics, "<td>x|y</td>")
	require.Contains(t, text(t, get(t, h, "/handbook/wiring")), `<img src="/handbook/wiring/inlet.svg" alt="Inlet"`)
	svg := get(t, h, "/handbook/wiring/inlet.svg")
	require.Equal(t, "image/svg+xml", svg.Header.Get("Content-Type"))
	for _, no := range []string{"/handbook/wiring/README.md", "/handbook/wiring/none.svg", "/handbook/nothing"} {
		require.Equal(t, http.StatusNotFound, get(t, h, no).StatusCode, no)
	}
}

func TestMarkdown(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"first heading is the page's", "# A", ""},
		{"paragraph over lines", "a\nb", "<p>a b</p>\n"},
		{"escaped", "<script>&", "<p>&lt;script&gt;&amp;</p>\n"},
		{"code keeps marks", "`a*b*` **c**", "<p><code>a*b*</code> <b>c</b></p>\n"},
		{"numbered list", "1. a\n2. b", "<ol class=\"marks\">\n<li>a</li>\n<li>b</li>\n</ol>\n"},
		{"list goes on", "* a\n  b", "<ul class=\"marks\">\n<li>a b</li>\n</ul>\n"},
		{"fence", "```\n<a>\n```", "<pre tabindex=\"0\"><code>&lt;a&gt;\n</code></pre>\n"},
		{"indented", "    x", "<pre tabindex=\"0\"><code>x\n</code></pre>\n"},
		{"third heading", "### C", "<h3>C</h3>\n"},
	} {
		got, _ := markdown(c.in, "/x/")
		require.Equal(t, c.want, string(got), c.name)
	}
}

func FuzzMarkdown(f *testing.F) {
	f.Add("# a\n\n| x |\n|---|\n| `y` |\n* z\n```\n")
	f.Add("![a](b.svg) **c** *d* \x01" + "0\x01")
	f.Fuzz(func(t *testing.T, in string) {
		got, _ := markdown(in, "/x/")
		require.NotContains(t, strings.ToLower(string(got)), "<script")
	})
}

// Where nothing can be calibrated the page says why there is no button.
func TestSetupSaysWhyNothingCanBeCalibrated(t *testing.T) {
	opt := testOptions()
	page := text(t, get(t, newServer(opt, steady().feed()).handler(), "/setup"))
	require.Contains(t, page, "Nothing can be calibrated now")
	require.NotContains(t, page, "/calibration/")
	d := newDay(t)
	page = text(t, get(t, newServer(d.opt, steady().feed()).handler(), "/setup"))
	require.NotContains(t, page, "Nothing can be calibrated")
	require.Contains(t, page, "/calibration/")
}

// Setup shows each sensor's electrical signal, or says that there is none.
func TestSetupTellsTheSignalOrThatThereIsNone(t *testing.T) {
	opt := testOptions()
	opt.Source = "simulated"
	page := text(t, get(t, newServer(opt, steady().feed()).handler(), "/setup"))
	require.Contains(t, page, "no electrical signal: this reading comes by no wire")
	opt.Raw = func(frame.Channel) string { return "12.41 mA" }
	page = text(t, get(t, newServer(opt, steady().feed()).handler(), "/setup"))
	require.Contains(t, page, `signal <span class="value">12.41 mA</span>`)
	require.NotContains(t, page, "no electrical signal")
	opt.Source, opt.Raw = "", nil
	require.NotContains(t, text(t, get(t, newServer(opt, steady().feed()).handler(), "/setup")), "no electrical signal")
}
