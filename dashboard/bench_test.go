package dashboard

import (
	"errors"
	"math/rand/v2"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/bench"
	"headroom/daemon/bench/rig"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// fakeBench has real sessions and a real store, and frames from a test.
type fakeBench struct {
	store    *bench.Store
	text     string
	session  *bench.Session
	at       time.Duration
	baseline []string
}

func newFakeBench(t testing.TB) *fakeBench {
	return &fakeBench{store: bench.NewStore(t.TempDir()), text: bench.GenericText()}
}

func (f *fakeBench) Source() string { return "an invented bench" }

func (f *fakeBench) Library() (*bench.Library, string, error) {
	l, err := bench.ParseLibrary("library.toml", []byte(f.text))
	return l, f.text, err
}

func (f *fakeBench) SetLibrary(text string) error {
	if _, err := bench.ParseLibrary("library.toml", []byte(text)); err != nil {
		return err
	}
	f.text = text
	return nil
}

func (f *fakeBench) Begin(s bench.Setup) (string, error) {
	lib, _, err := f.Library()
	if err != nil {
		return "", err
	}
	s.Instruments, s.Limits, s.Source, s.Began = lib.Instruments, lib.Limits(s.Pump), f.Source(), noon
	if f.session, err = bench.NewSession(s); err != nil {
		return "", err
	}
	return f.session.Record().ID, f.store.Save(f.session.Record())
}

func (f *fakeBench) Resume(id string) error {
	if f.session != nil && f.session.Halted() {
		return f.session.GoOn("for the test", noon)
	}
	r, err := f.store.Load(id)
	if err == nil {
		f.session, err = bench.Resume(r, false, "for the test", noon)
	}
	return err
}

func (f *fakeBench) Do(id string, act func(s *bench.Session, now time.Time) error) error {
	if f.session == nil || f.session.Record().ID != id {
		return errors.New("it is not under way")
	}
	if err := act(f.session, noon); err != nil {
		return err
	}
	return f.store.Save(f.session.Record())
}

func (f *fakeBench) Look(sys units.System) (BenchLook, bool) {
	if f.session == nil {
		return BenchLook{}, false
	}
	return BenchLook{View: f.session.View(sys), Standings: f.session.Standings(), Record: f.session.Record()}, true
}

func (f *fakeBench) Tests() ([]*bench.Record, []error)     { return f.store.List() }
func (f *fakeBench) Test(id string) (*bench.Record, error) { return f.store.Load(id) }
func (f *fakeBench) ConfigFile() string                    { return "my.toml" }
func (f *fakeBench) WriteBaseline(id string) error {
	f.baseline = append(f.baseline, id)
	return nil
}

// feed gives n frames with these readings and a little noise.
func (f *fakeBench) feed(n int, values map[frame.Channel]float64) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range n {
		f.at += 100 * time.Millisecond
		var fr frame.Frame
		for c := range frame.NumChannels {
			if v, ok := values[c]; ok {
				fr.Set(c, v*(1+0.001*rng.NormFloat64()))
			}
		}
		f.session.Feed(bench.Input{T: f.at, Wall: noon.Add(f.at), Samples: fr.Samples})
	}
}

// standingStill is a machine that is off and vented.
var standingStill = map[frame.Channel]float64{frame.OutletPressure: 0, frame.InletPressure: 0, frame.Flow: 0, frame.ShaftSpeed: 0, frame.MotorCurrent: 0, frame.WaterTemp: 288}

// benchRecord is a test on a simulated pump.
func benchRecord(t testing.TB, c rig.Condition, seed uint64, began time.Time) *bench.Record {
	lib := bench.Generic()
	p := lib.Pumps[0]
	p.Serial = "SIM-1"
	plan, err := bench.NewPlan(p, bench.DefaultChoice())
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(seed, 1))
	truth, err := rig.Draw(c, rng)
	require.NoError(t, err)
	trace, err := rig.Record(truth, p, plan)
	require.NoError(t, err)
	test, err := trace.Run(bench.Setup{
		Pump: p, Instruments: lib.Instruments, Limits: lib.Limits(p), Plan: plan, Who: "A. Tester (invented)", Where: "an invented shop",
		Source: "an invented bench", BoreM: 0.019, Began: began,
	}, rig.NewSensors(lib.Instruments, rng), rng)
	require.NoError(t, err)
	return test.Record
}

// shop is a bench with a worn pump and the same pump rebuilt.
func shop(t testing.TB) (f *fakeBench, worn, good *bench.Record) {
	f = newFakeBench(t)
	worn, good = benchRecord(t, rig.WornValves, 1, noon.AddDate(0, 0, -7)), benchRecord(t, rig.New, 3, noon)
	require.NoError(t, f.store.Save(worn))
	require.NoError(t, f.store.Save(good))
	return f, worn, good
}

func benchServer(f *fakeBench) *server {
	opt := testOptions()
	opt.Bench = f
	return newServer(opt, steady().feed())
}

// planForm is the form of a new test.
func planForm() url.Values {
	return url.Values{"pump": {bench.Generic().Pumps[0].Name}, "serial": {"17"}, "who": {"Ada"}, "place": {"the shop"}, "loads": {"50, 100"}, "window": {"10"}, "hand": {"1"}}
}

func TestBenchIsLedStepByStep(t *testing.T) {
	f := newFakeBench(t)
	s := benchServer(f)
	h := s.handler()
	require.Contains(t, pageText(t, h, "/", 200), `href="/bench"`)
	require.Contains(t, pageText(t, h, "/bench/new", 200), "invented triplex, 7.6 L/min at 9 MPa")
	resp := send(h, "/bench/new", planForm(), nil)
	require.Equal(t, http.StatusSeeOther, resp.StatusCode, text(t, resp))
	at := strings.TrimSuffix(resp.Header.Get("Location"), "?said=begun")
	require.Contains(t, pageText(t, h, at, 200), "Step 1 of 9: Rest")
	f.feed(60, standingStill)
	page := pageText(t, h, at, 200)
	require.Contains(t, page, "The machine is as it should be")
	require.Contains(t, page, "of 10 s")
	mark := benchMark(f.session.Record())
	require.NotContains(t, page, "http-equiv", "a page that a person writes on doesn't renew itself unasked")
	require.Contains(t, pageText(t, h, at+"?watch=1", 200), `<noscript><meta http-equiv="refresh"`)
	f.feed(60, standingStill)
	page = pageText(t, h, at, 200)
	require.Contains(t, page, "Step 2 of 9: No load")
	require.Contains(t, page, "Taken last: Rest")
	require.Contains(t, plain(page), "k = 1.65", "at nothing one uniform error is left, 95 % of which lies within 0.95 times the root of 3; source: JCGM 100, 4.3.7")

	act := func(name string, kv ...string) *http.Response {
		v := url.Values{"mark": {benchMark(f.session.Record())}}
		for i := 0; i+1 < len(kv); i += 2 {
			v.Set(kv[i], kv[i+1])
		}
		return send(h, at+"/"+name, v, nil)
	}
	require.Equal(t, 409, act("skip", "mark", mark, "why", "x").StatusCode, "a press meant for the step before")
	require.Equal(t, 409, act("take").StatusCode, "nothing is collected")
	require.Equal(t, 409, act("skip").StatusCode, "no reason")
	require.Equal(t, 409, act("nonsense").StatusCode)
	for f.session.View(units.SI).Step.Kind != bench.Bucket {
		require.Equal(t, 303, act("skip", "why", "not today").StatusCode)
	}
	require.Contains(t, pageText(t, h, at, 200), "Measured, L/min")
	require.Equal(t, 409, act("enter", "value", "7.5", "off", "nothing").StatusCode)
	require.Equal(t, 409, act("enter", "value", "7.5", "off", "0").StatusCode)
	require.Equal(t, 303, act("enter", "value", "7.5", "off", "0.05 L/min").StatusCode)
	require.InDelta(t, 7.5e-3/60, f.session.Record().Entries[0].Value, 1e-12)
	require.Equal(t, 303, act("back").StatusCode)
	require.Contains(t, pageText(t, h, at+"/results", 200), "Not tested")
	require.Equal(t, 409, act("abort").StatusCode)
	require.Equal(t, 303, act("abort", "why", "lunch\x1b[2J\u202e "+strings.Repeat("x", 5000)).StatusCode)
	kept := f.session.Record().Breaks[0].Why
	require.Contains(t, kept, "lunch[2J x", "a reason is one line of what can be seen")
	require.LessOrEqual(t, len(kept), len("aborted: ")+maxNote)
	page = pageText(t, h, at, 200)
	require.Contains(t, page, "A partial test is no proof of the pump")
	require.Contains(t, page, "lunch")
	require.Contains(t, pageText(t, h, at+"/certificate", 200), "PARTIAL TEST")
}

// A test that was cut off is gone on with, and says so.
// TestBenchSaysWhereItCanBePractised: nobody can switch a simulated machine off
// for a test, and a person is told so before one is begun.
func TestBenchSaysWhereItCanBePractised(t *testing.T) {
	s := benchServer(newFakeBench(t))
	s.opt.Source = ""
	require.NotContains(t, pageText(t, s.handler(), "/bench/new", 200), "bench run -sim new")
	s.opt.Source = "the simulator"
	page := pageText(t, s.handler(), "/bench/new", 200)
	require.Less(t, strings.Index(page, "bench run -sim new"), strings.Index(page, "Begin the test"))
	require.Contains(t, page, "no test can be brought to its end")
}

func TestBenchGoesOnAfterABreak(t *testing.T) {
	f := newFakeBench(t)
	s := benchServer(f)
	h := s.handler()
	at := strings.TrimSuffix(send(h, "/bench/new", planForm(), nil).Header.Get("Location"), "?said=begun")
	f.feed(150, standingStill)
	require.NoError(t, f.store.Save(f.session.Record()))
	f.session = nil // the power goes
	page := pageText(t, h, at, 200)
	require.Contains(t, page, "interrupted, can be gone on with")
	require.Contains(t, page, "Go on with it")
	require.Contains(t, pageText(t, h, "/bench", 200), "interrupted")
	require.Equal(t, 303, send(h, at+"/resume", url.Values{}, nil).StatusCode)
	require.Contains(t, pageText(t, h, at, 200), "Step 2 of 9")
	require.Contains(t, pageText(t, h, at+"/results", 200), "for the test")
}

// haltedBench is a test that was cut off and taken up by the program.
func haltedBench(t testing.TB) (f *fakeBench, s *server, at string) {
	f = newFakeBench(t)
	s = benchServer(f)
	at = strings.TrimSuffix(send(s.handler(), "/bench/new", planForm(), nil).Header.Get("Location"), "?said=begun")
	f.feed(150, standingStill)
	var err error
	f.session, err = bench.Reopen(f.session.Record())
	require.NoError(t, err)
	return f, s, at
}

func TestBenchThatWaitsForAWord(t *testing.T) {
	f, s, at := haltedBench(t)
	h := s.handler()
	f.feed(300, standingStill)
	page := pageText(t, h, at, 200)
	require.Contains(t, page, "This test was cut off, and waits.")
	require.Contains(t, page, "Step 2 of 9")
	require.Contains(t, page, "Go on with this step")
	require.Contains(t, page, "End the test")
	for _, not := range []string{"Leave this step out", "Take it as it is", "The point is taken by itself", "One step back", "It is set"} {
		require.NotContains(t, page, not)
	}
	require.Contains(t, pageText(t, h, "/bench", 200), "Cut off, and waits for your word to go on")
	require.Contains(t, pageText(t, h, "/bench", 200), "Go to the test that waits")
	require.Contains(t, pageText(t, h, at+"/results", 200), "cut off, waits for your word to go on")
	require.Contains(t, pageText(t, h, at+"/results", 200), "Go on with it")
	require.Contains(t, text(t, get(t, h, "/api/v1/bench")), `"waits_for_go_on":true`)
	for _, act := range []string{"ready", "take", "back", "skip"} {
		form := url.Values{"mark": {benchMark(f.session.Record())}, "why": {"no time"}}
		resp := send(h, at+"/"+act, form, nil)
		require.Equal(t, http.StatusConflict, resp.StatusCode, act)
		require.Contains(t, plain(text(t, resp)), "cut off and waits", act)
	}
	require.Empty(t, f.session.Record().Breaks)

	require.Equal(t, 303, send(h, at+"/resume", url.Values{}, nil).StatusCode)
	page = pageText(t, h, at, 200)
	require.NotContains(t, page, "cut off, and waits")
	require.Contains(t, page, "The point is taken by itself")
	require.Contains(t, text(t, get(t, h, "/api/v1/bench")), `"waits_for_go_on":false`)
	require.Len(t, f.session.Record().Breaks, 1)
}

func TestBenchPlanIsRefusedWithWhatWasWritten(t *testing.T) {
	f := newFakeBench(t)
	s := benchServer(f)
	h := s.handler()
	for _, c := range []struct{ key, value, want string }{
		{"pump", "none", "choose a pump"}, {"loads", "50", "give two pressures or more"}, {"loads", "50, x", "no list of percents"},
		{"loads", "1, 100", "give 0.1 to 1.1"}, {"window", "1", "give 10 to 600"}, {"window", "", "10 to 600"}, {"who", " ", "needs the name"},
	} {
		form := planForm()
		form.Set(c.key, c.value)
		resp := send(h, "/bench/new", form, nil)
		page := text(t, resp)
		require.Equal(t, 409, resp.StatusCode, c.want)
		require.Contains(t, strings.ToLower(plain(page)), strings.ToLower(c.want))
		require.Contains(t, page, `value="the shop"`)
	}
}

func TestBenchLibraryTakesAPumpOfOnesOwn(t *testing.T) {
	f := newFakeBench(t)
	s := benchServer(f)
	h := s.handler()
	bad := send(h, "/bench/pump", url.Values{"name": {"mine"}, "flow": {"8"}, "pressure": {"10 gpm"}, "speed": {"1450"}, "displacement": {"5 cm3"}}, nil)
	require.Equal(t, 409, bad.StatusCode)
	require.Contains(t, plain(text(t, bad)), "Pressure = &#34;10 gpm&#34; is no value with a unit")
	resp := send(h, "/bench/pump", url.Values{"name": {"mine \"A\""}, "flow": {"8"}, "pressure": {"10 MPa"}, "speed": {"1450"}, "plungers": {"3"}, "plunger": {"16 mm"}, "stroke": {"10 mm"}}, nil)
	require.Equal(t, 303, resp.StatusCode, text(t, resp))
	l, _, err := f.Library()
	require.NoError(t, err)
	p, ok := l.Find(`mine "A"`)
	require.True(t, ok)
	require.InDelta(t, 8e-3/60, p.FlowM3s, 1e-9)
	require.InDelta(t, 6.032e-6, p.DisplacementM3, 1e-9) // 3 * pi/4 * 16 mm² * 10 mm; source: arithmetic
	require.Contains(t, pageText(t, h, resp.Header.Get("Location"), 200), "mine &#34;A&#34;")
	require.Equal(t, 409, send(h, "/bench/library", url.Values{"text": {"[[pump]]\nname = 3\n"}}, nil).StatusCode)
	require.Equal(t, 303, send(h, "/bench/library", url.Values{"text": {strings.ReplaceAll(f.text, "\n", "\r\n")}}, nil).StatusCode)
}

func TestBenchResultsCompareTrendAndCertificate(t *testing.T) {
	f, worn, good := shop(t)
	s := benchServer(f)
	h := s.handler()
	list := pageText(t, h, "/bench", 200)
	require.Contains(t, list, benchPath(worn.ID))
	require.Contains(t, list, "Practice, no certificate")
	require.Contains(t, list, "fail, ")
	require.Contains(t, pageText(t, h, benchPath(good.ID), 200), "no pump was tested", "practice is nobody's baseline")
	good.Source = bench.OwnSensors
	require.NoError(t, f.store.Save(good))
	page := pageText(t, h, benchPath(good.ID), 200)
	for _, want := range []string{"Acceptance", "NPSH required", "Guard band", "<svg class=\"xy\"", "JCGM 106", "Factor k", good.Hash(), "[[machine.baseline]]", "my.toml"} {
		require.Contains(t, page, want)
	}
	require.NotContains(t, page, "NaN")
	require.NotContains(t, page, "style=")
	require.NotContains(t, page, "\ufffd")
	both := pageText(t, h, "/bench/compare?a="+worn.ID+"&b="+good.ID, 200)
	require.Contains(t, both, "Changed")
	require.Contains(t, pageText(t, h, "/bench/compare?a=x&b="+good.ID, 200), "no test")
	require.Contains(t, pageText(t, h, "/bench/compare", 200), "Compare")
	require.Contains(t, pageText(t, h, "/bench/trend?figure=flow", 200), "A trend needs three tests; there are 2 tests")
	require.Contains(t, pageText(t, h, "/bench/trend?pump=none", 200), "No test of this pump")
	resp := send(h, benchPath(good.ID)+"/certificate?before="+worn.ID, nil, nil)
	require.Equal(t, reportPolicy, resp.Header.Get("Content-Security-Policy"))
	require.Contains(t, text(t, resp), "Before and after")
	for path, code := range map[string]int{"/bench/none": 404, "/bench/none/results": 404, "/bench/..%2Fx": 404, "/bench/none/certificate": 404, benchPath(good.ID) + "/certificate?before=x": 404, "/api/v1/bench/none": 404} {
		pageText(t, h, path, code)
	}
}

func TestBenchBaselineNeedsAWord(t *testing.T) {
	f, worn, good := shop(t)
	s := benchServer(f)
	h := s.handler()
	require.Equal(t, 409, send(h, benchPath(good.ID)+"/baseline", url.Values{}, nil).StatusCode)
	require.Empty(t, f.baseline)
	require.Equal(t, 303, send(h, benchPath(good.ID)+"/baseline", url.Values{"word": {"1"}, "who": {"Ada"}}, nil).StatusCode)
	require.Equal(t, []string{good.ID}, f.baseline)
	require.Contains(t, pageText(t, h, benchPath(worn.ID), 200), "be a baseline", "a pump that failed is none")
}

// bench walks what programs read of the bench.
func (w *walker) bench() {
	f, _, good := shop(w.t)
	s := benchServer(f)
	h := s.handler()
	w.get(h, "/api/v1/bench/{id}", "/api/v1/bench/"+good.ID)
	w.get(h, "/api/v1/bench/{id}", "/api/v1/bench/none")
	at := send(h, "/bench/new", planForm(), nil).Header.Get("Location")
	require.NotEmpty(w.t, at)
	w.get(h, "/api/v1/bench", "/api/v1/bench")
}

func BenchmarkBenchResultsPage(b *testing.B) {
	f, _, good := shop(b)
	s := benchServer(f)
	h := s.handler()
	for b.Loop() {
		require.Equal(b, 200, send(h, benchPath(good.ID), nil, nil).StatusCode)
	}
}
