package hardware

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"headroom/daemon/config"
	"headroom/rules/engine"
	"headroom/rules/machine"
	"headroom/sensors"
	"headroom/sensors/outputs"
)

// Outputs are beacon, horn and stop relay with their table, latch and buttons.
// The tick calls Tick; Run moves the lines in goroutines of its own.
type Outputs struct {
	keeper *outputs.Keeper
	cfg    config.Outputs
	log    *slog.Logger
	note   func(what string)
	// overriding is whether a held button overrode the stop in the last step.
	overriding bool
	reset      *button
	hold       *button

	// trial is what a person tries from a page, waiting whether the stop relay
	// waits for a reset.
	trial   trial
	waiting atomic.Bool

	// Of the tick only.
	latch   outputs.Latch
	running bool
}

// NewOutputs returns the outputs of a config on the running kernel; nil, nil
// for a config without any.
func NewOutputs(cfg *config.Config, log *slog.Logger) (*Outputs, error) {
	return Env{}.Outputs(cfg, log)
}

// Outputs makes the outputs of a config in this environment; nil, nil for a
// config without any. No line is touched before Run.
func (e Env) Outputs(cfg *config.Config, log *slog.Logger) (*Outputs, error) {
	e = e.withDefaults()
	c := cfg.Outputs
	if !c.Any() {
		return nil, nil
	}
	if log == nil {
		log = slog.Default()
	}
	opt := outputs.Options{Lines: e.Lines, KeepAlive: c.KeepAlive}
	if c.Beacon.On {
		opt.Beacon = output(c.Beacon.GPIO)
	}
	if c.Horn.On {
		opt.Horn = output(c.Horn.GPIO)
	}
	if c.Stop.On && c.Stop.Confirm == config.Confirmed {
		opt.Stop = &outputs.StopRelay{Output: *output(c.Stop.GPIO), PulseEvery: c.Stop.PulseEvery}
		if c.Stop.EnergisedStops {
			opt.Stop.Polarity = outputs.EnergisedStops
		}
	}
	k, err := outputs.New(opt)
	if err != nil {
		return nil, fmt.Errorf("[outputs]: %w", err)
	}
	o := &Outputs{keeper: k, cfg: c, log: log}
	o.latch.Override = c.Stop.Override
	if c.Stop.Override == 0 {
		o.latch.Override = -1 // the latch's own 0 is its default
	}
	if c.Stop.RunAtStart {
		o.latch.AllowAtStart()
	}
	if opt.Stop != nil {
		o.reset, o.hold = newButton("reset", c.Reset, e.Lines, log), newButton("hold", c.Hold, e.Lines, log)
	}
	return o, nil
}

func output(g config.GPIO) *outputs.Output {
	return &outputs.Output{Chip: g.Chip, Line: line(g), ActiveLow: g.ActiveLow}
}

// Tick gives the outputs what one step of the engine found, and proves that
// the tick is alive. It never blocks. now must not run backwards.
func (o *Outputs) Tick(v *engine.Verdicts, now time.Duration) {
	cmd := outputs.Command{Signal: signal(&o.cfg, v, false)}
	try := o.trial.step(v)
	if o.reset != nil {
		demand, dropped := o.demand(v), o.keeper.Dropped()
		out := o.latch.Step(outputs.LatchInput{
			Demand: demand || try.stop, Hold: o.hold.pressed() && !try.stop, Reset: o.reset.pressed() || try.reset, Dropped: dropped,
		}, now)
		cmd.Run, cmd.Signal = out.Run, signal(&o.cfg, v, !out.Run)
		o.waiting.Store(!out.Run)
		o.tell(out, try.stop && !demand && !dropped)
	}
	try.light(&cmd.Signal)
	o.keeper.Refresh(cmd)
}

// NoteTo makes the outputs tell of every stop, override and refused reset. It
// is called before the first Tick; note must not block.
func (o *Outputs) NoteTo(note func(what string)) { o.note = note }

// tell notes what the latch did in this step; tried is true where a person who
// tried the relay is its only reason, which is no incident.
func (o *Outputs) tell(out outputs.LatchOutput, tried bool) {
	say := func(what string) {
		o.log.Info("stop relay", "what", what)
		if o.note != nil {
			o.note(what)
		}
	}
	switch {
	case out.Run && !o.running:
		say("the machine may run")
	case !out.Run && o.running && tried:
		say("the stop relay was opened as a trial, from a page")
	case !out.Run && o.running:
		say("the stop relay opened")
	}
	if out.Overriding && !o.overriding {
		say("a held button overrides the stop, for " + out.OverrideLeft.String() + " at most")
	}
	if !out.Overriding && o.overriding {
		say("the override ended")
	}
	if out.ResetRefused {
		say("a reset was refused: the reason for the stop still stands")
	}
	o.running, o.overriding = out.Run, out.Overriding
}

// demand reports whether a rule wants the machine stopped.
func (o *Outputs) demand(v *engine.Verdicts) bool {
	for r := range engine.NumRules {
		if o.cfg.Stop.Rules[r] && v.Alarms[engine.ActAlarm(r)].Active {
			return true
		}
	}
	return false
}

// State tells which outputs are energised, and whether they dropped by
// themselves because the tick stood still.
func (o *Outputs) State() (beacon, horn, stop, dropped bool) {
	beacon, horn, stop = o.keeper.Energised()
	return beacon, horn, stop, o.keeper.Dropped()
}

// The back-off between two tries of outputs that can't be had.
const (
	firstPause = 250 * time.Millisecond
	lastPause  = 10 * time.Second
)

// Run keeps the lines until ctx ends, and tries again with back-off when they
// can't be had or are gone. When it returns the outputs are in their safe
// state, as far as the kernel still moves them.
func (o *Outputs) Run(ctx context.Context) {
	var all sync.WaitGroup
	defer all.Wait()
	for _, b := range []*button{o.reset, o.hold} {
		if b != nil && b.cfg.On {
			all.Go(func() { b.run(ctx) })
		}
	}
	for pause := firstPause; ; pause = min(2*pause, lastPause) {
		began := time.Now()
		err := o.keeper.Run(ctx)
		if err != nil {
			o.log.Warn("outputs ended, trying again", "error", err, "pause", pause)
		}
		if ctx.Err() != nil {
			return
		}
		if time.Since(began) > lastPause {
			pause = firstPause
		}
		sensors.Pause(ctx, pause)
	}
}

// signal reads the config's table. stopped is set while the machine waits for a reset.
// The beacon shows the worst that stands. The horn asks for a person: it is as
// loud as the worst that nobody has acknowledged, and silent once every alarm was.
func signal(c *config.Outputs, v *engine.Verdicts, stopped bool) outputs.Signal {
	calls := v.CallLevel()
	s := outputs.Signal{Beacon: row(&c.Beacon, v.Level, v.Machine, stopped), Horn: row(&c.Horn, calls, v.Machine, stopped)}
	if calls == engine.Normal && v.Level > engine.Normal {
		s.Horn = outputs.Pattern{}
	}
	return s
}

// row is what one of the two does: by severity, while the pump turns (or may
// turn: an unknown state counts as turning) and while it stands. A stop that
// waits for a person's reset shows, unless something louder stands.
func row(a *config.Annunciator, level engine.Level, m machine.State, stopped bool) outputs.Pattern {
	level = min(level, engine.Act) // a severity it doesn't know is the highest
	name := a.Standing[level]
	if m.Turning() || m == machine.Unknown || m >= machine.NumStates {
		name = a.Turning[level]
	}
	p, _ := outputs.PatternByName(name)
	if stopped && p == (outputs.Pattern{}) {
		p, _ = outputs.PatternByName(a.Stopped)
	}
	return p
}
