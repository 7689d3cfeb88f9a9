package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"headroom/daemon/rerun"
	"headroom/daemon/review"
	"headroom/daemon/store"
	"headroom/rules/units"
)

// pastFlags are the flags of commands that read one run of a record.
type pastFlags struct {
	record, units string
}

// cmdReview tells what happened in a run, in words.
func cmdReview(ctx context.Context, args []string, io stdio) error {
	var o pastFlags
	var asJSON, check bool
	var opt review.Options
	fs := flags("review", "[flags] [RUN]", io)
	fs.StringVar(&o.record, "record", "", "the record's `folder`; without it the default one")
	fs.StringVar(&o.units, "units", "", "US or SI; without it what the config in force says")
	fs.BoolVar(&asJSON, "json", false, "one JSON object with every sentence, what it rests on, and the sums")
	fs.BoolVar(&check, "verify", false, "work out every figure anew from the frames, and say what differs")
	fs.DurationVar(&opt.From, "from", 0, "of a whole boot, leave out what came before this time since its start")
	fs.DurationVar(&opt.To, "to", 0, "of a whole boot, leave out what came after; 0 for all")
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() > 1 {
		fs.Usage()
		return errUsage
	}
	return o.open(ctx, fs.Arg(0), func(r *store.Reader, id store.RunID, sys units.System) error {
		if id.N > 0 && (opt.From != 0 || opt.To != 0) {
			return fmt.Errorf("-from and -to go with a whole boot: write %d instead of %v", id.Boot, id)
		}
		a, err := review.Tell(ctx, r, id, opt)
		if err != nil {
			return err
		}
		if check {
			return verifyAccount(ctx, r, a, io)
		}
		if asJSON {
			return a.WriteJSON(io.out, sys)
		}
		return a.WriteText(io.out, review.TextOptions{Units: sys, Zone: time.Local})
	})
}

// verifyAccount recomputes an account.
func verifyAccount(ctx context.Context, r *store.Reader, a *review.Account, io stdio) error {
	differs, err := review.Verify(ctx, r, a)
	if err != nil {
		return err
	}
	for _, d := range differs {
		fmt.Fprintln(io.out, d)
	}
	if len(differs) > 0 {
		return fmt.Errorf("%d figures of the account differ from the record", len(differs))
	}
	fmt.Fprintf(io.out, "%d sentences: every figure is what the record holds\n", len(a.Sentences)+len(a.CannotTell))
	return nil
}

// open opens the record at the run that was named, or the newest one, and
// finds the units to write in.
func (o *pastFlags) open(ctx context.Context, run string, do func(*store.Reader, store.RunID, units.System) error) (err error) {
	dir, err := recordFolder(o.record, "")
	if err != nil {
		return err
	}
	defer func() { err = damagedRecord(dir, err) }()
	r, err := store.OpenReader(dir)
	if store.IsDamaged(err) {
		return err
	}
	if err != nil {
		return fmt.Errorf("%w; name another folder with -record", err)
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	id, err := namedRun(ctx, r, run, dir)
	if err != nil {
		return err
	}
	sys := units.SI
	if o.units != "" {
		if sys, err = parseUnits(o.units); err != nil {
			return err
		}
	} else if cfg, err := rerun.InForce(ctx, r, id.Boot); err == nil {
		sys = cfg.Units // and without a config that can be read, SI
	}
	return do(r, id, sys)
}

// namedRun is the run that was named, or the newest one; a boot where the newest
// that happened was an incident outside of any run.
func namedRun(ctx context.Context, r *store.Reader, name, dir string) (store.RunID, error) {
	if name != "" && name != "last" {
		id, err := store.ParseRunID(name)
		if err != nil {
			return id, fmt.Errorf("%w; headroom record list shows those there are", err)
		}
		return id, nil
	}
	runs, err := r.ListEntries(ctx, 1)
	if err != nil {
		return store.RunID{}, err
	}
	if len(runs) == 0 {
		return store.RunID{}, fmt.Errorf("the record in %s holds no run yet; name a boot by its number to see what there is", dir)
	}
	return runs[0].ID, nil
}
