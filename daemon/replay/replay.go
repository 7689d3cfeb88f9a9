// Package replay runs recorded frames through the engine as fast as they can
// be read, and tells what the engine made of them: for people as a report, for
// programs as one JSON object a line. It keeps nothing of the recording but
// the engine's state, so that memory does not grow with the file. It judges
// nothing itself: the engine is the one that watches live machines.
package replay

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"time"

	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// Source gives frames in order of time. It returns io.EOF after the last.
type Source interface {
	Next(f *frame.Frame) (t time.Duration, wall time.Time, err error)
}

// Result is what is left of a replay when it is done.
type Result struct {
	// First and Last are the times of the first and the last frame, and their
	// wall times as the recording states them; zero where it states none.
	First, Last         time.Duration
	FirstWall, LastWall time.Time
	Totals              engine.Totals
	// WorstLevel is the highest level of any alarm that was raised.
	WorstLevel engine.Level
	// Final are the verdicts of the last frame.
	Final engine.Verdicts
	// Digest is over every verdict of every frame; nil unless asked for.
	Digest []byte
}

// Act is what a person did to an alarm while the recording was made.
type Act struct {
	// T is the time of the last frame before it, as live acts are dated.
	T     time.Duration
	Alarm engine.AlarmID
	Act   alarm.Act
	// Shelf is how long for alarm.Shelve.
	Shelf time.Duration
	// Who did it, as the person gave the name.
	Who string
}

// Options of a replay.
type Options struct {
	// Kept are the alarms that the first frame finds, as after a restart; nil
	// for none.
	Kept *[engine.NumAlarms]engine.Kept
	// Acts are done again, in their order, each after the last frame that isn't
	// later than it. With them, and the alarms kept, a replay gives the
	// verdicts of then to the last bit.
	Acts []Act
	// From is the first frame that is told of. Earlier ones only bring the
	// engine into the state of then: nothing is called for them, and neither
	// the result nor the digest holds them. 0 tells of all.
	From time.Duration
	// OnAct is called for each act that is told of; ok is false where it meant
	// nothing, as under other limits it may. May be nil.
	OnAct func(a Act, ok bool, wall time.Time)
	// OnTransition is called for each alarm that goes up or back; may be nil.
	OnTransition func(tr engine.Transition, wall time.Time)
	// OnVerdicts is called for each frame; may be nil. v is valid only during
	// the call.
	OnVerdicts func(v *engine.Verdicts, wall time.Time)
	// Digest asks for the digest over every verdict, at some cost.
	Digest bool
}

// Run replays src to its end, or until ctx ends. The error says after how many
// frames it stopped; the result up to there is returned beside it.
func Run(ctx context.Context, e *engine.Engine, src Source, opt Options) (Result, error) {
	r := runner{opt: opt}
	if opt.Digest {
		r.sum = sha256.New()
	}
	if opt.Kept != nil {
		r.state.Restore(opt.Kept)
	}
	err := r.loop(ctx, e, src)
	r.res.Totals = r.part.totals(&r.state)
	if r.last != nil {
		r.res.Final = *r.last
	}
	if r.sum != nil {
		r.res.Digest = r.sum.Sum(nil)
	}
	if err != nil {
		return r.res, fmt.Errorf("replay stopped after %d frames: %w", r.res.Totals.Frames, err)
	}
	return r.res, nil
}

type runner struct {
	opt   Options
	state engine.State
	res   Result
	sum   hash.Hash
	buf   []byte
	last  *engine.Verdicts
	wall  time.Time
	// told is set once a frame is told of; part keeps what was before.
	told bool
	part part
}

// ctxEvery is how many frames pass between two looks at the context.
const ctxEvery = 4096

func (r *runner) loop(ctx context.Context, e *engine.Engine, src Source) error {
	var f frame.Frame
	for n := 0; ; n++ {
		if n%ctxEvery == 0 && ctx.Err() != nil {
			return context.Cause(ctx)
		}
		t, wall, err := src.Next(&f)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		r.act(e, t)
		if !r.told && t >= r.opt.From {
			r.told = true
			r.part.begin(&r.state)
		}
		r.take(e.Step(&r.state, &f, t), t, wall)
	}
}

// act repeats what was done before a frame.
func (r *runner) act(e *engine.Engine, t time.Duration) {
	for len(r.opt.Acts) > 0 && r.opt.Acts[0].T < t {
		a := r.opt.Acts[0]
		r.opt.Acts = r.opt.Acts[1:]
		_, ok := e.Do(&r.state, a.Alarm, a.Act, a.T, a.Shelf)
		if r.told && r.opt.OnAct != nil {
			r.opt.OnAct(a, ok, r.wall)
		}
	}
}

func (r *runner) take(v *engine.Verdicts, t time.Duration, wall time.Time) {
	r.wall = wall
	if !r.told {
		return
	}
	if r.last == nil {
		r.res.First, r.res.FirstWall = t, wall
	}
	r.res.Last, r.res.LastWall = t, wall
	for _, tr := range v.Transitions() {
		if tr.Raised {
			r.res.WorstLevel = max(r.res.WorstLevel, tr.Level)
		}
		if r.opt.OnTransition != nil {
			r.opt.OnTransition(tr, wall)
		}
	}
	if r.opt.OnVerdicts != nil {
		r.opt.OnVerdicts(v, wall)
	}
	if r.sum != nil {
		r.buf = v.Append(r.buf[:0])
		r.sum.Write(r.buf)
	}
	r.part.note(v)
	r.last = v
}
