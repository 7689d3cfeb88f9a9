package rig

import (
	"context"
	"fmt"
	"math/rand/v2"
	"time"

	"headroom/daemon/bench"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// patience is how long the simulated person tries one step.
const patience = 4 * time.Minute

// Leader runs a whole session on a simulated bench through the engine, as fast
// as it goes.
type Leader struct {
	Session *bench.Session
	Bench   *Bench
	Sensors *Sensors
	Engine  *engine.Engine
	Rand    *rand.Rand
	// Began is the time of day at the start.
	Began time.Time
	// Units are those of the views that Tell gets.
	Units units.System
	// Keep is called each time the record has changed; may be nil.
	Keep func(r *bench.Record) error
	// Tell is called with each new step; may be nil.
	Tell func(v bench.View)

	state engine.State
	begun string
	taken int
	since time.Duration
}

// Run leads to the end of the session, or until ctx ends; the session is then
// left as it is, to be gone on with.
func (l *Leader) Run(ctx context.Context) error {
	for !l.Session.Done() {
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		step, _ := l.Session.Step()
		if err := l.begin(step); err != nil {
			return err
		}
		if l.Session.Done() {
			break
		}
		if changed := l.tick(); changed {
			if err := l.keep(); err != nil {
				return err
			}
		}
	}
	return nil
}

// wall is the time of day on the bench.
func (l *Leader) wall() time.Time { return l.Began.Add(l.Bench.Now()) }

// begin does what a person does at the start of a step, and gives a step up
// that can't be had.
func (l *Leader) begin(step bench.Step) error {
	taken := len(l.Session.Record().Points)
	if step.ID == l.begun && taken == l.taken {
		if l.Bench.Now()-l.since > patience {
			if err := l.Session.Skip("cannot be had: "+l.Session.View(l.Units).Waiting, l.wall()); err != nil {
				return err
			}
			return l.keep()
		}
		return nil
	}
	l.begun, l.taken, l.since = step.ID, taken, l.Bench.Now()
	if l.Tell != nil {
		l.Tell(l.Session.View(l.Units))
	}
	switch step.Kind {
	case bench.Bucket, bench.Cup, bench.Reference:
		l.Bench.ensureOwn()
	}
	if half := l.hand(step.Kind); half > 0 {
		v := l.Bench.Told(step.Kind) + half*(2*l.Rand.Float64()-1)
		if err := l.Session.Enter(max(v, 0), half, l.wall()); err != nil {
			return err
		}
		return l.keep()
	}
	l.Bench.Begin(step)
	return l.Session.Ready()
}

// hand is how far a person's own measurement may be off; 0 for other steps.
func (l *Leader) hand(k bench.Kind) float64 {
	v := l.Bench.Told(k)
	switch k {
	case bench.Bucket:
		return bucketHalf * v
	case bench.Reference:
		return referenceHalf * v
	case bench.Cup:
		return max(cupHalf*v, cupLeast)
	}
	return 0
}

func (l *Leader) tick() (changed bool) {
	l.Bench.Advance()
	v := l.Bench.Values()
	var f frame.Frame
	l.Sensors.Read(&v, &f)
	out := l.Engine.Step(&l.state, &f, l.Bench.Now())
	return l.Session.Feed(bench.InputOf(out, l.wall()))
}

func (l *Leader) keep() error {
	if l.Keep == nil {
		return nil
	}
	if err := l.Keep(l.Session.Record()); err != nil {
		return fmt.Errorf("the test goes no further: %w", err)
	}
	return nil
}
