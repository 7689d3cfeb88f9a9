//go:build rig && linux

package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"headroom/daemon/store"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// The job in frames: the pump runs, stands for longer than the hold-off, and
// while it runs the inlet starves now and then.
const (
	runFor, standFor = 220, 130
	starveEvery      = 40
	tickEvery        = 100 * time.Millisecond
	holdOff          = 8 * time.Second
)

// begun is the job's wall time; the guest's own clock is of no interest.
var begun = time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)

// options make the store seal, wrap its tail and end runs within seconds, so
// that cuts meet all of that.
func options() store.Options {
	return store.Options{
		Info: store.Info{
			Software: "0.0.0-rig", ConfigHash: "c0ffee", ConfigText: []byte("# invented\n"),
			Machine: "invented", StartWall: begun,
		},
		TailBytes: 64 << 10, SealFrames: 120, HoldOff: holdOff,
	}
}

// step is one tick: its frame and what the engine made of it.
type step struct {
	t      time.Duration
	raw    frame.Frame
	v      engine.Verdicts
	totals engine.Totals
}

// job makes the same steps for the same boot, always.
type job struct {
	engine *engine.Engine
	state  engine.State
	random *rand.Rand
	n      int
	step
}

func newJob(boot uint64) (*job, error) {
	e, err := engine.New(limits())
	if err != nil {
		return nil, fmt.Errorf("cannot make the engine: %w", err)
	}
	return &job{engine: e, random: rand.New(rand.NewPCG(boot, 1))}, nil
}

func limits() engine.Config {
	cfg := engine.Config{
		MaxGap: 3 * time.Second, SensorOn: 300 * time.Millisecond, SensorOff: 500 * time.Millisecond,
		States:  machine.Config{StartTime: 2 * time.Second, StopTime: 2 * time.Second, BypassAfter: time.Second},
		Machine: engine.Machine{RunCurrentA: 4, FlowOnM3s: 1e-5, CircuitA: 20},
	}
	for _, c := range []frame.Channel{frame.InletPressure, frame.WaterTemp, frame.Flow, frame.MotorCurrent, frame.Running} {
		lo, hi := c.Believable()
		cfg.Signals[c] = engine.Signal{Fitted: true, Min: lo, Max: hi}
	}
	cfg.Rules[engine.InletLow] = engine.Limit{
		On: true, Warn: 150e3, Act: 20e3, HasWarn: true, HasAct: true, WarnLevel: engine.Warning, ActLevel: engine.Act,
		Span: 200e3, Deadband: 5e3, WarnOn: 200 * time.Millisecond, ActOn: 200 * time.Millisecond, Off: 300 * time.Millisecond,
	}
	return cfg
}

// next makes the next step, a tenth of a second on.
func (j *job) next() *step {
	j.n++
	j.t = time.Duration(j.n) * tickEvery
	on := 0.0
	if j.n%(runFor+standFor) < runFor {
		on = 1
	}
	inlet := 300e3
	if on == 1 && j.n%starveEvery > starveEvery*2/3 {
		inlet = 100e3
	}
	noise := func(unit float64) float64 { return unit * math.Round(3*j.random.NormFloat64()) }
	j.raw = frame.Frame{}
	j.raw.Set(frame.InletPressure, inlet+noise(30))
	j.raw.Set(frame.WaterTemp, 288+float64(j.n/50%16)/16)
	j.raw.Set(frame.Flow, on*1.2e-4+on*noise(1e-7))
	j.raw.Set(frame.MotorCurrent, on*13+on*noise(0.01))
	j.raw.Set(frame.Running, on)
	j.v = *j.engine.Step(&j.state, &j.raw, j.t)
	j.totals = j.state.Totals()
	return &j.step
}
