// Package recordtest makes records for tests: it plays a scenario of testdata
// through the simulator and the engine into a store, as the daemon would, with
// what people do to the alarms. It owns nothing else, is imported by tests only,
// and says in every record that the machine is invented.
package recordtest

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/daemon/store"
	"headroom/deploy/testneed"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/scenario"
	"headroom/sensors/sim"
)

// Tick is the time between two frames.
const Tick = 100 * time.Millisecond

// StartWall is the time of day at which every record begins.
var StartWall = time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)

// Script is a job with what people do to its alarms.
type Script struct {
	// Scenario is its name in testdata/scenarios.
	Scenario string
	// Acts are done at their times, in order.
	Acts []Deed
	// HoldOff of the record, 0 for its default.
	HoldOff time.Duration
	// Spoil changes a frame before it is judged; may be nil. false drops it.
	Spoil func(at time.Duration, f *frame.Frame) bool
	// Unset leaves the clock at 1970.
	Unset bool
	// Software that records; empty for a made-up one.
	Software string
}

// Deed is what a person does to an alarm.
type Deed struct {
	At    time.Duration
	Alarm string
	Act   alarm.Act
	Who   string
	// Shelf is how long for alarm.Shelve.
	Shelf time.Duration
}

// Play records a scenario as the daemon would and returns the record's folder.
func Play(t testing.TB, sc Script) string {
	t.Helper()
	s, err := scenario.Load(os.DirFS(filepath.Join(testneed.Root(t), "testdata", "scenarios")), sc.Scenario+".toml")
	require.NoError(t, err)
	dir := t.TempDir()
	record(t, dir, s, sc)
	return dir
}

// fitted reads the scenario's config and leaves the channels that the
// simulated machine has.
func fitted(t testing.TB, s *scenario.Scenario) (cfg *config.Config, channels []frame.Channel) {
	cfg, problems := config.Parse(s.Name, s.Config)
	require.Empty(t, config.Mistakes(problems))
	for _, ch := range sim.DefaultChannels(s) {
		if cfg.Engine.Signals[ch].Fitted {
			channels = append(channels, ch)
		}
	}
	for ch := range frame.NumChannels {
		if !slices.Contains(channels, ch) {
			cfg.Engine.Signals[ch].Fitted, cfg.Stale[ch] = false, 0
		}
	}
	return cfg, channels
}

func record(t testing.TB, dir string, s *scenario.Scenario, sc Script) {
	cfg, channels := fitted(t, s)
	e, err := engine.New(cfg.Engine)
	require.NoError(t, err)
	p, err := sim.New(sim.Options{Scenario: s, Channels: channels})
	require.NoError(t, err)
	text := append([]byte("# invented\n"), s.Config...)
	wall := StartWall
	if sc.Unset {
		wall = time.Unix(0, 0).UTC()
	}
	st, err := store.Open(dir, store.Options{HoldOff: sc.HoldOff, TailBytes: 256 << 10, Info: store.Info{
		Software: software(sc.Software), Machine: "Demo jetter (invented)", ConfigHash: "9f86d081884c7d65", ConfigText: text, StartWall: wall,
	}})
	require.NoError(t, err)
	b := sensors.NewBoard(cfg.Stale)
	w := writer{st: st, e: e, wall: wall}
	for now := Tick; now <= s.Duration; now += Tick {
		p.Advance(now, b.Post)
		var f frame.Frame
		b.Frame(now, &f)
		for len(sc.Acts) > 0 && sc.Acts[0].At < now {
			w.do(t, sc.Acts[0])
			sc.Acts = sc.Acts[1:]
		}
		if sc.Spoil == nil || sc.Spoil(now, &f) {
			w.put(t, now, &f)
		}
	}
	require.NoError(t, st.Close())
}

func software(s string) string {
	if s == "" {
		return "0.0.0-test"
	}
	return s
}

type writer struct {
	st   *store.Store
	e    *engine.Engine
	s    engine.State
	wall time.Time
	last time.Duration
	n    int
}

func (w *writer) put(t testing.TB, at time.Duration, f *frame.Frame) {
	v := w.e.Step(&w.s, f, at)
	totals := w.s.Totals()
	w.st.NoteTotals(&totals)
	require.NoError(t, w.st.Append(at, w.wall.Add(at), f, v))
	if w.n++; w.n%10 == 0 || len(v.Transitions()) > 0 {
		require.NoError(t, w.st.Sync())
	}
	w.last = at
}

func (w *writer) do(t testing.TB, d Deed) {
	a := store.Act{T: w.last, Wall: w.wall.Add(w.last), Who: d.Who, What: d.Act.String(), Alarm: d.Alarm, For: d.Shelf}
	if id, ok := engine.AlarmByName(d.Alarm); ok {
		did, _ := w.e.Do(&w.s, id, d.Act, w.last, d.Shelf)
		a.With = did.Names()
	}
	_, err := w.st.Act(a)
	require.NoError(t, err)
}
