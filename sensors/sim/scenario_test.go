package sim_test

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/plant"
	"headroom/sensors/scenario"
	"headroom/sensors/sim"
)

// tick is the daemon's: ten frames a second.
const tick = 100 * time.Millisecond

// outcome is what one scenario gave.
type outcome struct {
	log   []scenario.Happened
	rig   *rig
	plant *plant.State
}

// rig is the daemon without goroutines: simulator, board, engine.
type rig struct {
	sim    *sim.Sim
	board  *sensors.Board
	engine *engine.Engine
	state  engine.State
	now    time.Duration
}

// newRig wires a scenario to the default limits. Channels that the simulator
// doesn't feed are not fitted.
func newRig(t testing.TB, s *scenario.Scenario) *rig {
	t.Helper()
	m, err := sim.New(sim.Options{Scenario: s})
	require.NoError(t, err)
	cfg, stale := limits()
	fed := map[frame.Channel]bool{}
	for _, c := range m.Channels() {
		fed[c] = true
	}
	for c := range frame.NumChannels {
		if !fed[c] {
			cfg.Signals[c].Fitted, stale[c] = false, 0
		}
	}
	e, err := engine.New(cfg)
	require.NoError(t, err)
	return &rig{sim: m, board: sensors.NewBoard(stale), engine: e}
}

// step advances everything by one frame.
func (r *rig) step() *engine.Verdicts {
	r.now += tick
	r.sim.Advance(r.now, r.board.Post)
	var f frame.Frame
	r.board.Frame(r.now, &f)
	return r.engine.Step(&r.state, &f, r.now)
}

// play runs a scenario to its end.
func play(t testing.TB, s *scenario.Scenario) outcome {
	t.Helper()
	r := newRig(t, s)
	o := outcome{rig: r}
	for r.now < s.Duration {
		for _, tr := range r.step().Transitions() {
			o.log = append(o.log, scenario.Happened{Alarm: alarmName(tr.Alarm), At: tr.T, Raised: tr.Raised})
		}
	}
	o.plant = r.sim.State()
	return o
}

func alarmName(a engine.AlarmID) string {
	if c, ok := a.Channel(); ok {
		return "sensor." + c.String()
	}
	r, _ := a.Rule()
	if a == engine.WarnAlarm(r) {
		return r.String() + ".warn"
	}
	return r.String() + ".act"
}

// folder holds the scenarios, seen from this package.
const folder = "../../testdata/scenarios"

// all returns every scenario file and the demo.
func all(t testing.TB) []*scenario.Scenario {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(folder, "*.toml"))
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 18, "scenarios are missing")
	demo, err := scenario.Demo()
	require.NoError(t, err)
	out := []*scenario.Scenario{demo}
	for _, f := range files {
		s, err := scenario.Load(os.DirFS(folder), filepath.Base(f))
		require.NoError(t, err)
		out = append(out, s)
	}
	return out
}

// TestScenarios plays every scenario through board and engine. The windows are
// reasoned from the physics and the limits, in each file's comments.
func TestScenarios(t *testing.T) {
	for _, s := range all(t) {
		t.Run(s.Name, func(t *testing.T) {
			t.Parallel()
			requireKnown(t, s)
			o := play(t, s)
			for _, d := range s.Check(o.log) {
				t.Error(d)
			}
			if t.Failed() || testing.Verbose() {
				for _, h := range o.log {
					t.Logf("%v %s raised=%v", h.At, h.Alarm, h.Raised)
				}
			}
			l := &o.plant.Ledger
			require.Less(t, math.Abs(l.WaterErrorKg()), 1e-11*(1+l.WaterInKg))
			require.Less(t, math.Abs(l.EnergyErrorJ()), 1e-11*(1+l.EnergyInJ))
		})
	}
}

// requireKnown catches a misspelt alarm: one that must come has to be one that
// the engine has. One that may come can belong to a rule that isn't built yet.
func requireKnown(t *testing.T, s *scenario.Scenario) {
	for i := range s.Expects {
		e := &s.Expects[i]
		_, known := engine.RuleByName(e.Rule)
		require.True(t, known || e.Maybe || e.Rule == "sensor", "the engine has no rule %q", e.Rule)
	}
}

// TestEveryFaultHasAScenario keeps the set complete.
func TestEveryFaultHasAScenario(t *testing.T) {
	seen := map[scenario.FaultKind]bool{}
	for _, s := range all(t) {
		for _, f := range s.Faults {
			seen[f.Kind] = true
		}
	}
	for _, name := range scenario.FaultNames() {
		k, _ := scenario.FaultByName(name)
		require.True(t, seen[k], "no scenario has the fault %s", name)
	}
}
