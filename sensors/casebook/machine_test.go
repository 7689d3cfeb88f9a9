package casebook_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/wear"
	"headroom/sensors/scenario"
	"headroom/sensors/sim"
)

// told is what the daemon knows of a scenario's machine.
type told struct {
	engine engine.Config
	stale  [frame.NumChannels]time.Duration
	fed    []frame.Channel
}

// configOf reads the scenario's part of the config over the default. A channel
// counts as fitted where the config says so and the simulator feeds it.
func configOf(t testing.TB, s *scenario.Scenario) told {
	t.Helper()
	c, problems := config.Parse(s.Name+", [config]", s.Config)
	require.Empty(t, config.Mistakes(problems), "the config of %s", s.Name)
	m := told{engine: c.Engine, stale: c.Stale}
	fed := [frame.NumChannels]bool{}
	for _, ch := range sim.DefaultChannels(s) {
		if c.Engine.Signals[ch].Fitted {
			fed[ch] = true
			m.fed = append(m.fed, ch)
		}
	}
	for ch := range frame.NumChannels {
		if !fed[ch] {
			m.engine.Signals[ch].Fitted, m.stale[ch] = false, 0
		}
	}
	m.engine.Plant.Baseline.Tol = wear.DefaultTolerance()
	for _, w := range s.Baseline {
		p := wear.Point{SpeedHz: w.SpeedHz, DropPa: w.DropPa, TempK: w.TempK, Efficiency: w.Efficiency}
		require.True(t, m.engine.Plant.Baseline.Add(p), "the baseline of %s", s.Name)
	}
	return m
}

// testdata, seen from this package.
const (
	scenarios = "../../testdata/scenarios"
	tableFile = "../../testdata/casebook/CASES.md"
)

// tick is the daemon's: ten frames a second.
const tick = 100 * time.Millisecond

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
