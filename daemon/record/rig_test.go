package record

import (
	"bytes"
	"errors"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

var startWall = time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)

// testInfo is an invented machine.
var testInfo = Info{Software: "0.0.0-test", Config: "9f86d081884c7d65", Machine: "trailer 2, invented", StartWall: startWall}

// rig makes frames of three channels whose numbers tell the tick, and runs an
// engine without delays over them: flow fails in every tenth tick and comes
// back in the next, so that alarms go up and back.
type rig struct {
	e *engine.Engine
	s engine.State
	n int
}

func newRig(t testing.TB) *rig { return newRigT(t) }

// newRigT also serves rapid's tests.
func newRigT(t require.TestingT) *rig {
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

// appendTo appends a tick and syncs first where the log is full.
func (k *tick) appendTo(l Log) error {
	err := l.Append(k.t, k.wall, &k.raw, k.v)
	if errors.Is(err, ErrFull) {
		if err := l.Sync(); err != nil {
			return err
		}
		return l.Append(k.t, k.wall, &k.raw, k.v)
	}
	return err
}

// rows reads an exported recording back.
func rows(t require.TestingT, text []byte) (at []time.Duration, frames []frame.Frame) {
	r, err := csvfile.NewReader(bytes.NewReader(text), "export", csvfile.Map{}, csvfile.Options{Strict: true})
	require.NoError(t, err)
	for {
		var f frame.Frame
		d, _, err := r.Next(&f)
		if errors.Is(err, io.EOF) {
			return at, frames
		}
		require.NoError(t, err)
		at, frames = append(at, d), append(frames, f)
	}
}

// exported reads all frames of a run through Export.
func exported(t require.TestingT, dir string, boot uint64) (at []time.Duration, frames []frame.Frame, rep Report) {
	var out bytes.Buffer
	rep, err := Export(&out, dir, boot, 0, 0)
	require.NoError(t, err)
	at, frames = rows(t, out.Bytes())
	return at, frames, rep
}
