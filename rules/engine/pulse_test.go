package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// The pulse of the flow takes head whether anybody measures the flow or not: a
// meter that fails, or was never there, must not make the margin better.
// Acceleration head of 0.2 m of 19 mm line at 7.6 L/min and 1725 rpm: L V N C /
// (K g) = 0.2 * 0.447 * 1725 * 0.066 / (1.4 * 9.81) = 0.74 m (Hydraulic Institute,
// from memory).
func TestAFailedFlowMeterDoesNotHelpTheMargin(t *testing.T) {
	r := newRig(t, fixture())
	with := r.running().Rules[engine.NPSHMargin]
	pulse := func(v *engine.Verdict) (u engine.Used) {
		for _, x := range v.Used() {
			if x.Term == engine.TermPulse {
				u = x
			}
		}
		return u
	}
	require.InDelta(t, 0.74, pulse(&with).Value, 0.01)
	require.False(t, pulse(&with).Assumed)

	f := healthy()
	f.Samples[frame.Flow] = frame.Sample{Status: frame.Failed}
	failed := r.feed(f, time.Second).Rules[engine.NPSHMargin]
	require.Equal(t, engine.Watching, failed.Judge)
	require.LessOrEqual(t, failed.Value, with.Value+1e-9)
	require.True(t, pulse(&failed).Assumed)
	require.InDelta(t, 0.74, pulse(&failed).Value, 0.01)

	cfg := fixture()
	cfg.Signals[frame.Flow].Fitted = false
	never := newRig(t, cfg).running().Rules[engine.NPSHMargin]
	require.LessOrEqual(t, never.Value, with.Value+1e-9)

	cfg.Machine.DisplacementM3, cfg.Machine.RatedFlowM3s = 0, 0
	require.Equal(t, engine.NotFitted, newRig(t, cfg).running().Rules[engine.NPSHMargin].Judge, "nothing tells the flow")
}
