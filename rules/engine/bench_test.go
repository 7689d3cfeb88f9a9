package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// noisy gives frames that differ a little, as live ones do.
func noisy(n int) []frame.Frame {
	out := make([]frame.Frame, n)
	for i := range out {
		out[i] = healthy()
		for c := range out[i].Samples {
			out[i].Samples[c].Value *= 1 + 1e-4*float64(i%7)
		}
	}
	return out
}

// One tick with every channel and all rules, none switched off.
func BenchmarkStep(b *testing.B) {
	cfg := fixture()
	cfg.Normal = engine.OwnNormal{LearnS: 10, WindowS: 5}
	cfg.Normal.Channels[frame.Flow], cfg.Normal.Channels[frame.Vibration] = true, true
	cfg.Rules[engine.Departure] = engine.Limit{On: true, Warn: 4, HasWarn: true, WarnLevel: engine.Advice, Span: 4}
	e, err := engine.New(cfg)
	require.NoError(b, err)
	frames := noisy(700)
	var s engine.State
	now := time.Duration(0)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		now += tick
		e.Step(&s, &frames[i%len(frames)], now)
	}
}

func TestStepAllocatesNothing(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	frames := noisy(7)
	i := 0
	require.Zero(t, testing.AllocsPerRun(1000, func() {
		r.now += tick
		r.e.Step(&r.s, &frames[i%7], r.now)
		i++
	}))
}
