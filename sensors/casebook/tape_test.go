package casebook_test

import (
	"math"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/plant"
	"headroom/sensors/scenario"
	"headroom/sensors/sim"
)

// tape is one case, played once: its frames for any number of engines, and
// what the oracle makes of every moment.
type tape struct {
	s      *scenario.Scenario
	cfg    engine.Config
	frames []frame.Frame
	oracle []moment
	run    run
	plant  plant.State
}

// run is what one engine made of a tape.
type run struct {
	log         []scenario.Happened
	spans       []span
	annunciated uint64
}

// span is one alarm from raise to clear; Gone is 0 for one that stood to the
// end.
type span struct {
	alarm    engine.AlarmID
	at, gone time.Duration
}

// record plays a scenario through simulator, board and engine.
func record(t testing.TB, s *scenario.Scenario) *tape {
	m := configOf(t, s)
	tp := &tape{s: s, cfg: m.engine}
	e, err := engine.New(m.engine)
	require.NoError(t, err)
	noisy := newSide(t, s, &m, false)
	clean := newSide(t, s, &m, true)
	st, o, w := &engine.State{}, newOracle(&tp.cfg, s), newWatch()
	var f, ideal frame.Frame
	for now := tick; now <= s.Duration; now += tick {
		noisy.frame(now, &f)
		clean.frame(now, &ideal)
		tp.frames = append(tp.frames, f)
		v := e.Step(st, &f, now)
		w.see(v)
		w.acknowledge(e, st)
		tp.oracle = append(tp.oracle, o.look(clean.sim, &ideal, v))
	}
	tp.run = w.done(st.Totals())
	tp.plant = *noisy.sim.State()
	l := &tp.plant.Ledger
	require.Less(t, math.Abs(l.WaterErrorKg()), 1e-11*(1+l.WaterInKg), s.Name)
	require.Less(t, math.Abs(l.EnergyErrorJ()), 1e-11*(1+l.EnergyInJ), s.Name)
	return tp
}

// side is one simulator with its board.
type side struct {
	sim   *sim.Sim
	board *sensors.Board
}

func newSide(t testing.TB, s *scenario.Scenario, m *told, noiseless bool) side {
	p, err := sim.New(sim.Options{Scenario: s, Channels: m.fed, Noiseless: noiseless})
	require.NoError(t, err)
	return side{p, sensors.NewBoard(m.stale)}
}

func (d side) frame(now time.Duration, f *frame.Frame) {
	d.sim.Advance(now, d.board.Post)
	d.board.Frame(now, f)
}

// replay runs another engine over the tape.
func (tp *tape) replay(e *engine.Engine) run {
	st, w := &engine.State{}, newWatch()
	for i := range tp.frames {
		w.see(e.Step(st, &tp.frames[i], time.Duration(i+1)*tick))
		w.acknowledge(e, st)
	}
	return w.done(st.Totals())
}

// pause is how long after an alarm has gone back the person of all cases says
// "I know".
const pause = 5 * time.Second

// acknowledge is that person.
func (w *watch) acknowledge(e *engine.Engine, st *engine.State) {
	for a := range w.returned {
		if at := w.returned[a]; at > 0 && w.now >= at+pause {
			e.Do(st, engine.AlarmID(a), alarm.Acknowledge, w.now, 0)
			e.Do(st, engine.AlarmID(a), alarm.Reset, w.now, 0) // of a latched one
			w.returned[a] = 0
		}
	}
}

// outlives is how long a consequence must outlive its cause before it may call
// by itself: it is on its own then.
const outlives = 5 * time.Second

// watch follows the alarms' lives through a run.
type watch struct {
	run   run
	open  [engine.NumAlarms]int // index into the log and 1, 0 for none yet
	under [engine.NumAlarms]map[string]int
	calls [engine.NumAlarms]bool
	now   time.Duration
	// covered is when an alarm last stood under a cause that stood.
	covered [engine.NumAlarms]time.Duration
	// returned is when an alarm went back that still calls.
	returned [engine.NumAlarms]time.Duration
}

func newWatch() *watch { return &watch{} }

func (w *watch) see(v *engine.Verdicts) {
	w.now = v.T
	for _, tr := range v.Transitions() {
		a := tr.Alarm
		if tr.Raised {
			w.run.log = append(w.run.log, scenario.Happened{Alarm: alarmName(a), At: tr.T})
			w.run.spans = append(w.run.spans, span{alarm: a, at: tr.T})
			w.open[a], w.under[a] = len(w.run.log), map[string]int{}
			continue
		}
		i := w.open[a] - 1
		w.run.log[i].Gone, w.run.spans[i].gone = tr.T, tr.T
		w.run.log[i].Under = most(w.under[a])
	}
	for i := range v.Alarms {
		if a := &v.Alarms[i]; w.open[i] > 0 {
			w.follow(engine.AlarmID(i), a, a.HasCause && v.Alarms[a.Under].Active)
		}
	}
}

func (w *watch) follow(id engine.AlarmID, a *engine.Standing, covered bool) {
	if covered {
		w.covered[id] = w.now
	}
	if a.Active {
		parent := ""
		if a.HasCause {
			parent = alarmName(a.Under)
		}
		w.under[id][parent]++
	}
	calls := a.Phase == alarm.Unacknowledged || a.Phase == alarm.Returned || a.Phase == alarm.LatchedUnacknowledged
	if h := &w.run.log[w.open[id]-1]; calls && !w.calls[id] {
		alone := a.Active && w.now-w.covered[id] >= outlives
		latched := a.Phase == alarm.LatchedUnacknowledged // it waits for a reset
		switch {
		case h.At == w.now:
			h.Called = true
		case !alone && !latched:
			h.Again++
		}
	}
	switch {
	case !calls || a.Active:
		w.returned[id] = 0
	case w.returned[id] == 0:
		w.returned[id] = w.now
	}
	w.calls[id] = calls
}

func (w *watch) done(t engine.Totals) run {
	for i := range w.open {
		if k := w.open[i] - 1; k >= 0 && w.run.log[k].Gone == 0 {
			w.run.log[k].Under = most(w.under[i])
		}
	}
	w.run.annunciated = t.Annunciated
	return w.run
}

// most returns where an alarm stood for most of its time.
func most(under map[string]int) (name string) {
	best := 0
	for n, k := range under {
		if k > best || k == best && n < name {
			name, best = n, k
		}
	}
	return name
}

// all records every case once for all tests.
var all = sync.OnceValue(func() []*tape {
	t := &quiet{}
	scs := load(t)
	tapes := make([]*tape, len(scs))
	each(len(scs), func(i int) { tapes[i] = record(t, scs[i]) })
	return tapes
})

// quiet is a testing.TB for what runs once for many tests, or beside a test's own
// goroutine, where a test can't be ended: it panics.
type quiet struct{ testing.TB }

func (*quiet) Helper()                   {}
func (*quiet) Errorf(f string, a ...any) { panic("cannot record the cases: " + sprintf(f, a...)) }
func (*quiet) FailNow()                  { panic("cannot record the cases") }

// load reads every scenario file and the demo.
func load(t testing.TB) []*scenario.Scenario {
	files, err := filepath.Glob(filepath.Join(scenarios, "*.toml"))
	require.NoError(t, err)
	demo, err := scenario.Demo()
	require.NoError(t, err)
	out := []*scenario.Scenario{demo}
	for _, f := range files {
		s, err := scenario.Load(os.DirFS(scenarios), filepath.Base(f))
		require.NoError(t, err)
		out = append(out, s)
	}
	return out
}

// each calls f for 0 to n-1 on all processors.
func each(n int, f func(i int)) {
	var wg sync.WaitGroup
	next := make(chan int)
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() {
			for i := range next {
				f(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
}
