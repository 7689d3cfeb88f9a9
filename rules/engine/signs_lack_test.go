package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// Signs that can't be judged name the sensor that would help the most.
func TestSignsOfCavitationNameWhatIsMissing(t *testing.T) {
	for _, c := range []struct {
		name   string
		fitted []frame.Channel
		npshM  float64
		judge  engine.Judge
		blame  frame.Channel
		source string
	}{
		{"inlet and current alone", []frame.Channel{frame.InletPressure, frame.MotorCurrent}, 0, engine.NotFitted, frame.Flow, "no figure for a margin"},
		{"inlet, water and current", []frame.Channel{frame.InletPressure, frame.WaterTemp, frame.MotorCurrent}, 2.5, engine.NotFitted, frame.Flow, "one margin on an assumed figure is no evidence"},
		{"and flow", []frame.Channel{frame.InletPressure, frame.WaterTemp, frame.Flow, frame.MotorCurrent}, 2.5, engine.Watching, frame.NumChannels, "margin and flow"},
	} {
		cfg := fixture()
		for ch := range cfg.Signals {
			cfg.Signals[ch].Fitted = false
		}
		for _, ch := range c.fitted {
			cfg.Signals[ch].Fitted = true
		}
		cfg.Machine.AssumedNPSHRM = c.npshM
		r := newRig(t, cfg)
		r.running()
		v := r.feed(healthy(), 5*time.Second).Rules[engine.Cavitation]
		require.Equal(t, c.judge, v.Judge, "%s: %s", c.name, c.source)
		require.Equal(t, c.blame, v.Blame, "%s: %s", c.name, c.source)
	}
}
