package main

import (
	"context"
	"errors"
	"fmt"

	"headroom/daemon/config"
	"headroom/daemon/replay"
	"headroom/daemon/rerun"
	"headroom/daemon/store"
	"headroom/rules/units"
)

// replayRecord runs a part of a record through the engine once more.
func replayRecord(ctx context.Context, o replayFlags, io stdio) (err error) {
	dir, err := recordFolder(o.record, "")
	if err != nil {
		return err
	}
	r, err := store.OpenReader(dir)
	if err != nil {
		return fmt.Errorf("%w; name another folder with -record, or give a recording's file", err)
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	id, err := o.runOf(ctx, r, dir)
	if err != nil {
		return err
	}
	var opt rerun.Options
	if o.config != "" {
		if opt.Config, err = config.Load(o.config); err != nil {
			return err
		}
	}
	return o.again(ctx, r, id, opt, io)
}

// runOf is the run that was asked for, or the newest boot.
func (o *replayFlags) runOf(ctx context.Context, r *store.Reader, dir string) (store.RunID, error) {
	if o.run != "" {
		return store.ParseRunID(o.run)
	}
	boots, err := r.Boots(ctx)
	if err != nil {
		return store.RunID{}, err
	}
	if len(boots) == 0 {
		return store.RunID{}, fmt.Errorf("nothing is recorded in %s", dir)
	}
	return store.RunID{Boot: boots[len(boots)-1].Boot}, nil
}

// again runs it and prints it in the form that was asked for.
func (o *replayFlags) again(ctx context.Context, r rerun.Record, id store.RunID, opt rerun.Options, io stdio) error {
	sys, err := o.unitsOf(ctx, r, id, opt)
	if err != nil {
		return err
	}
	opt.Replay.Digest = o.digest
	out := o.teller(titleOf(id), sys, io, &opt.Replay)
	res, err := rerun.Run(ctx, r, id, opt)
	for i := range res.Lost {
		fmt.Fprintf(io.err, "%v; from there on the verdicts may differ from those of then\n", &res.Lost[i])
	}
	if res.Info.Software != "" && res.Info.Software != versionString() {
		fmt.Fprintf(io.err, "recorded by version %s, judged by %s\n", res.Info.Software, versionString())
	}
	if err != nil {
		return err
	}
	if err := out.Summary(&replay.Summary{Result: res.Result}); err != nil {
		return fmt.Errorf("cannot write the report: %w", err)
	}
	return nil
}

// titleOf names a part of the record at the top of a report.
func titleOf(id store.RunID) string {
	if id.N == 0 {
		return fmt.Sprintf("boot %d", id.Boot)
	}
	return fmt.Sprintf("run %v", id)
}

// unitsOf are the units of the report: those asked for, else those of the
// config that judges.
func (o *replayFlags) unitsOf(ctx context.Context, r rerun.Record, id store.RunID, opt rerun.Options) (units.System, error) {
	if o.units != "" {
		return parseUnits(o.units)
	}
	if opt.Config != nil {
		return opt.Config.Units, nil
	}
	cfg, err := rerun.InForce(ctx, r, id.Boot)
	if errors.Is(err, rerun.ErrNoConfig) {
		return units.SI, fmt.Errorf("%w; name one with -config", err)
	}
	if err != nil {
		return units.SI, err
	}
	return cfg.Units, nil
}
