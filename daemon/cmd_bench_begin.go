package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"headroom/daemon/bench"
	"headroom/daemon/bench/rig"
	"headroom/daemon/config"
)

// The beginnings of a test's source, in words; what follows says which.
const (
	sourceSimulator = "the simulator, an invented pump: "
	sourceRecording = "the recording "
)

// canBegin refuses a test that has nothing to take readings from, before
// anything of it is kept.
func (o *benchFlags) canBegin(cfg *config.Config, p *bench.Pump) error {
	switch {
	case o.sim != "" && o.playback != "":
		return errors.New("-sim and -playback exclude each other: leave one out")
	case o.sim != "":
		if c := rig.Conditions(); !slices.Contains(c, rig.Condition(o.sim)) {
			return fmt.Errorf("there is no condition %q: choose one of %v", o.sim, c)
		}
		if is := &bench.Generic().Pumps[0]; p.DisplacementM3 != is.DisplacementM3 || p.PressurePa != is.PressurePa || p.SpeedHz != is.SpeedHz {
			return fmt.Errorf("the simulator has one pump, %q, and can't be judged by the plate of %q: leave -pump and -library out", is.Name, p.Name)
		}
	case o.playback != "":
		f, err := os.Open(o.playback)
		if err != nil {
			return fmt.Errorf("cannot open the recording: %w", err)
		}
		return f.Close()
	case !cfg.Sensors.Any():
		return errors.New("the config has no sensors: write -config FILE of your machine, -sim new to try it out, or -playback FILE")
	}
	return nil
}

// fromWhere lets a test go on with the source that it was begun on, and with no
// other: half a simulation and half a pump is a test of neither.
func (o *benchFlags) fromWhere(r *bench.Record) error {
	if o.sim == "" && o.playback == "" {
		if sim, ok := strings.CutPrefix(r.Source, sourceSimulator); ok {
			o.sim = sim
		} else if file, ok := strings.CutPrefix(r.Source, sourceRecording); ok {
			o.playback = file
		}
	}
	if now := o.source(); now != r.Source {
		hint := "go on with it where it was begun, or begin a new one"
		if r.Practice() && o.sim == "" {
			hint = "it waits in that program, and goes on at your word on its page Bench"
		}
		return fmt.Errorf("the test %s takes its readings from: %s, and not from %s; %s", r.ID, r.Source, now, hint)
	}
	return nil
}

// benchDelete deletes tests, all or none.
func benchDelete(_ context.Context, o *benchFlags, args []string, io stdio) error {
	if len(args) == 0 {
		return errors.New("name the tests to delete; headroom bench list shows them")
	}
	_, store, _, err := o.prepare()
	if err != nil {
		return err
	}
	for _, id := range args {
		r, err := store.Load(id)
		if err != nil {
			if o.force && store.Has(id) {
				continue // it can't be read, and can be deleted
			}
			return err
		}
		if !o.force && !r.Practice() && r.State != bench.Running {
			return fmt.Errorf("the test %s was done on a pump (%s, by %s): -force deletes it all the same", id, wholeness(r), r.Who)
		}
	}
	for _, id := range args {
		if err := store.Delete(id); err != nil {
			return err
		}
		fmt.Fprintf(io.out, "deleted %s\n", id)
	}
	return nil
}
