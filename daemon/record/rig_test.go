package record

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

var startWall = time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)

// rig makes frames of three channels whose numbers tell the tick, and runs an
// engine without delays over them: flow fails in every tenth tick and comes
// back in the next, so that alarms go up and back.
type rig struct {
	e *engine.Engine
	s engine.State
	n int
}

func newRig(t testing.TB) *rig {
	var cfg engine.Config
	cfg.MaxGap = time.Minute
	for _, c := range []frame.Channel{frame.InletPressure, frame.Flow, frame.Running} {
		lo, hi := c.Believable()
		cfg.Signals[c] = engine.Signal{Fitted: true, Min: lo, Max: hi}
	}
	e, err := engine.New(cfg)
	require.NoError(t, err)
	return &rig{e: e}
}

// tick is one step of the engine with its frame.
type tick struct {
	t    time.Duration
	wall time.Time
	raw  frame.Frame
	v    *engine.Verdicts
}

func (r *rig) next() tick {
	r.n++
	k := tick{t: time.Duration(r.n) * 100 * time.Millisecond}
	k.wall = startWall.Add(k.t)
	k.raw.Set(frame.InletPressure, 250e3+1/float64(r.n))
	k.raw.Set(frame.Flow, 1e-4*(1+1/float64(r.n)))
	k.raw.Set(frame.Running, 1)
	if r.n%10 == 0 {
		k.raw.Samples[frame.Flow].Status = frame.Failed
	}
	k.v = r.e.Step(&r.s, &k.raw, k.t)
	return k
}
