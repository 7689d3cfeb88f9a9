package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"time"

	"headroom/daemon/bench"
	"headroom/daemon/bench/rig"
	"headroom/daemon/config"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/csvfile"
)

func bindRun(fs *flag.FlagSet, o *benchFlags) {
	fs.StringVar(&o.library, "library", "", "library `file` of pumps, instruments and limits; without it the invented one")
	fs.StringVar(&o.pump, "pump", "", "`name` of the pump in the library; without it its first")
	fs.StringVar(&o.serial, "serial", "", "serial `number` of the machine at hand")
	fs.StringVar(&o.who, "who", "", "`name` of who does the test")
	fs.StringVar(&o.where, "where", "", "`place` of the test")
	fs.StringVar(&o.sim, "sim", "", "simulate a pump in this `condition`: new, worn-valves, worn-packing, slipping-belt, wrong-nozzle, bad-sensor")
	fs.StringVar(&o.playback, "playback", "", "take the readings from this recorded CSV `file`")
	fs.Uint64Var(&o.seed, "seed", 1, "of the simulated errors")
	fs.Float64Var(&o.window, "window", 30, "seconds that a point is long")
	fs.StringVar(&o.speeds, "speeds", "", "further speeds, as shares of the plate's: 0.8,0.9")
	fs.StringVar(&o.unloader, "unloader", "", "points set by the unloader, as shares of the plate's pressure: 0.6,0.8")
	fs.BoolVar(&o.noInlet, "no-inlet", false, "leave the inlet test out of the plan")
	fs.BoolVar(&o.noBypass, "no-bypass", false, "leave the warming in the bypass out of the plan")
	fs.BoolVar(&o.noLeak, "no-leak-down", false, "leave the leak-down out of the plan")
	fs.BoolVar(&o.alone, "no-hand", false, "leave bucket, packing cup and reference gauge out of the plan")
}

// choice is the plan that the flags ask for.
func (o *benchFlags) choice() (bench.Choice, error) {
	c := bench.DefaultChoice()
	c.WindowS, c.Inlet, c.Bypass, c.LeakDown, c.ByHand = o.window, !o.noInlet, !o.noBypass, !o.noLeak, !o.alone
	for _, l := range []struct {
		flag, text string
		to         *[]float64
	}{{"-speeds", o.speeds, &c.SpeedShares}, {"-unloader", o.unloader, &c.UnloaderShares}} {
		for _, word := range strings.FieldsFunc(l.text, func(r rune) bool { return r == ',' || r == ' ' }) {
			v, err := strconv.ParseFloat(word, 64)
			if err != nil {
				return c, fmt.Errorf("%s %q is no list of shares: write for example 0.6,0.8", l.flag, l.text)
			}
			*l.to = append(*l.to, v)
		}
	}
	return c, nil
}

// setup gathers what a test begins with.
func (o *benchFlags) setup(cfg *config.Config) (bench.Setup, error) {
	lib, err := o.loadLibrary()
	if err != nil {
		return bench.Setup{}, err
	}
	if len(lib.Pumps) == 0 {
		return bench.Setup{}, errors.New("the library holds no pump")
	}
	p := lib.Pumps[0]
	if o.pump != "" {
		var ok bool
		if p, ok = lib.Find(o.pump); !ok {
			return bench.Setup{}, fmt.Errorf("the library has no pump %q: headroom bench pumps lists them", o.pump)
		}
	}
	p.Serial = o.serial
	c, err := o.choice()
	if err != nil {
		return bench.Setup{}, err
	}
	plan, err := bench.NewPlan(p, c)
	if err != nil {
		return bench.Setup{}, err
	}
	return bench.Setup{
		Pump: p, Instruments: lib.Instruments, Limits: lib.Limits(p), Plan: plan, Who: o.who, Where: o.where,
		AltitudeM: cfg.Engine.Machine.AltitudeM, BoreM: cfg.Engine.Machine.InletBoreM, Began: time.Now(),
		Source: o.source(), HandsOff: o.playback != "",
	}, nil
}

// source says in words where the readings come from.
func (o *benchFlags) source() string {
	switch {
	case o.sim != "":
		return sourceSimulator + o.sim
	case o.playback != "":
		return sourceRecording + o.playback
	}
	return bench.OwnSensors
}

func benchRun(ctx context.Context, o *benchFlags, args []string, io stdio) error {
	if len(args) > 0 {
		return fmt.Errorf("%q is too much: a new test takes flags only", args[0])
	}
	if o.who == "" {
		return errors.New("who does the test? Write -who NAME")
	}
	cfg, store, sys, err := o.prepare()
	if err != nil {
		return err
	}
	setup, err := o.setup(cfg)
	if err != nil {
		return err
	}
	if err := o.canBegin(cfg, &setup.Pump); err != nil {
		return err
	}
	s, err := bench.NewSession(setup)
	for err == nil && store.Has(s.Record().ID) {
		// Two tests of one pump in one second: simulated ones are that quick.
		setup.Began = setup.Began.Add(time.Second)
		s, err = bench.NewSession(setup)
	}
	if err != nil {
		return err
	}
	return o.lead(ctx, s, cfg, store, sys, io)
}

func benchResume(ctx context.Context, o *benchFlags, args []string, io stdio) error {
	id, err := one(args, "test to go on with")
	if err != nil {
		return err
	}
	cfg, store, sys, err := o.prepare()
	if err != nil {
		return err
	}
	r, err := store.Find(id)
	if err != nil {
		return err
	}
	if err := o.fromWhere(r); err != nil {
		return err
	}
	if err := o.canBegin(cfg, &r.Pump); err != nil {
		return err
	}
	s, err := bench.Resume(r, o.playback != "", "gone on with "+o.source(), time.Now())
	if err != nil {
		return err
	}
	return o.lead(ctx, s, cfg, store, sys, io)
}

// lead runs the session on what the flags name, and shows the result.
func (o *benchFlags) lead(ctx context.Context, s *bench.Session, cfg *config.Config, store *bench.Store, sys units.System, io stdio) error {
	if err := store.Save(s.Record()); err != nil {
		return err
	}
	printBand(s.Record().PracticeBand(), io)
	fmt.Fprintf(io.out, "Test %s, kept in %s\n", s.Record().ID, o.folder)
	var err error
	switch {
	case o.sim != "":
		err = o.simulate(ctx, s, cfg, store, sys, io)
	case o.playback != "":
		err = o.play(ctx, s, cfg, store)
	default:
		err = o.follow(ctx, s, cfg, store, sys, io)
	}
	if serr := store.Save(s.Record()); err == nil {
		err = serr
	}
	if err != nil {
		fmt.Fprintf(io.err, "The test is kept as far as it went: headroom bench resume %s\n", s.Record().ID)
		return err
	}
	return showTest(s.Record(), sys, io)
}

// simulate leads through the test on a simulated bench.
func (o *benchFlags) simulate(ctx context.Context, s *bench.Session, cfg *config.Config, store *bench.Store, sys units.System, io stdio) error {
	rng := rand.New(rand.NewPCG(o.seed, 0))
	truth, err := rig.Draw(rig.Condition(o.sim), rng)
	if err != nil {
		return err
	}
	rec := s.Record()
	b, err := rig.NewBench(truth, rec.Pump)
	if err != nil {
		return fmt.Errorf("cannot simulate the bench: %w", err)
	}
	sens := rig.NewSensors(rec.Instruments, rng)
	if truth.Condition == rig.BadSensor {
		sens.Spoil(frame.OutletPressure, 0.05*rec.Pump.PressurePa, 0)
	}
	e, err := engine.New(fitTo(cfg.Engine, rig.Channels()))
	if err != nil {
		return fmt.Errorf("cannot use the config: %w", err)
	}
	l := rig.Leader{Session: s, Bench: b, Sensors: sens, Engine: e, Rand: rng, Began: rec.Began, Keep: store.Save, Units: sys,
		Tell: func(v bench.View) {
			fmt.Fprintf(io.out, "%2d/%d %s\n", v.Number, v.Of, v.Todo)
		}}
	return l.Run(ctx)
}

// play feeds the session from a recording, through the engine.
func (o *benchFlags) play(ctx context.Context, s *bench.Session, cfg *config.Config, store *bench.Store) error {
	if own := sideFile(o.playback, o.config); own != "" {
		c, err := config.Load(own)
		if err != nil {
			return err
		}
		cfg = c
	}
	file, err := os.Open(o.playback)
	if err != nil {
		return fmt.Errorf("cannot open the recording: %w", err)
	}
	defer file.Close()
	reader, err := csvfile.NewReader(file, o.playback, csvMap(cfg.CSV), csvfile.Options{})
	if err != nil {
		return err
	}
	e, err := engine.New(fitTo(cfg.Engine, reader.Channels()))
	if err != nil {
		return fmt.Errorf("cannot use the config: %w", err)
	}
	return playFrames(ctx, s, e, reader, store)
}
