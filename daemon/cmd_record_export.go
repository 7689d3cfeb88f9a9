package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"headroom/daemon/exported"
	"headroom/daemon/store"
)

type exportFlags struct {
	folder, out, run, format string
	boot                     uint64
	from, to                 time.Duration
	alone, force             bool
}

func recordExport(ctx context.Context, args []string, io stdio) error {
	var o exportFlags
	fs := flags("record export", "[flags]", io)
	fs.StringVar(&o.folder, "record", "", "the record's `folder`; without it the default one")
	fs.StringVar(&o.out, "o", "", "write to `FILE`, and the config in force beside it as .toml; without it to standard output")
	fs.StringVar(&o.run, "run", "", "the `run` that list shows, 12.3, or a whole boot, 12; without it the newest boot")
	fs.StringVar(&o.format, "format", "", "csv or parquet; without it by FILE's ending, else csv")
	fs.BoolVar(&o.alone, "alone", false, "leave out what came before the run: smaller, but a replay only comes near the verdicts of then")
	fs.BoolVar(&o.force, "force", false, "replace FILE, and the .toml beside it, where they exist")
	fs.Uint64Var(&o.boot, "boot", 0, "the same as -run with a whole boot's `number`")
	fs.DurationVar(&o.from, "from", 0, "begin later, as a time since the boot's start, for example 1h20m; what came before is in the file\n"+
		"too, for the replay, unless -alone leaves it out (record sheet writes only what is asked for)")
	fs.DurationVar(&o.to, "to", 0, "end earlier; 0 for all")
	if err := parse(fs, args); err != nil {
		return err
	}
	format, err := o.formatOf()
	if err != nil {
		return err
	}
	return withRecord(o.folder, func(dir string, r *store.Reader) error {
		id, err := o.runOf(ctx, r, dir)
		if err != nil {
			return err
		}
		what := exported.What{Run: id, From: o.from, To: o.to, Alone: o.alone}
		if o.out == "" {
			rep, err := exported.Write(ctx, io.out, r, what, format)
			if err == nil {
				tellExport(&rep, "", io)
			}
			return err
		}
		if err := o.mayWrite(); err != nil {
			return err
		}
		return exportFile(ctx, r, what, format, o.out, io)
	})
}

// mayWrite refuses to replace what is there.
func (o *exportFlags) mayWrite() error {
	return errors.Join(notThere(o.out, o.force), notThere(besideExport(o.out), o.force))
}

// besideExport is the file of the config in force.
func besideExport(path string) string {
	if side := ownConfig(path); side != path {
		return side
	}
	return path + ".toml"
}

func (o *exportFlags) formatOf() (exported.Format, error) {
	if o.format != "" {
		return exported.ParseFormat(strings.ToLower(o.format))
	}
	switch ext := strings.ToLower(filepath.Ext(o.out)); ext {
	case ".parquet":
		return exported.Parquet, nil
	case ".csv", "":
		return exported.CSV, nil
	case ".txt", ".log", ".tsv", ".dat":
		return "", fmt.Errorf("%s doesn't tell what to write: name the file .csv or .parquet, or say -format csv", o.out)
	default:
		return "", fmt.Errorf("cannot write a %s file: an export is .csv, which a spreadsheet opens, or .parquet; -format csv writes CSV under any name", ext)
	}
}

// runOf is what was asked for, or the newest boot.
func (o *exportFlags) runOf(ctx context.Context, r *store.Reader, dir string) (store.RunID, error) {
	switch {
	case o.run != "" && o.boot != 0:
		return store.RunID{}, errors.New("-run and -boot both say what to export: leave one out")
	case o.run != "":
		return store.ParseRunID(o.run)
	case o.boot != 0:
		return store.RunID{Boot: o.boot}, nil
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

// exportFile writes the export and the config in force beside it. A file that
// could not be finished is of no use and is taken away.
func exportFile(ctx context.Context, r *store.Reader, what exported.What, format exported.Format, path string, io stdio) error {
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("cannot write the export: %w", err)
	}
	rep, err := exported.Write(ctx, f, r, what, format)
	if err == nil {
		err = f.Sync()
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, os.Remove(path))
	}
	side := ""
	if len(rep.Info.ConfigText) > 0 {
		side = besideExport(path)
		if err := os.WriteFile(side, rep.Info.ConfigText, 0o644); err != nil {
			return fmt.Errorf("cannot write the config beside the export: %w", err)
		}
	}
	fmt.Fprintf(io.err, "wrote %s: %s", path, counted(int(rep.Rows), "row"))
	if rep.LeadInRows > 0 {
		fmt.Fprintf(io.err, ", %d of them before the run, which the engine must have seen", rep.LeadInRows)
	}
	fmt.Fprintln(io.err)
	tellExport(&rep, side, io)
	return nil
}

// tellExport says what the file is good for.
func tellExport(rep *exported.Report, side string, io stdio) {
	for i := range rep.Lost {
		fmt.Fprintln(io.err, rep.Lost[i].Error())
	}
	switch {
	case len(rep.Info.ConfigText) == 0:
		fmt.Fprintln(io.err, "the config in force was not kept with this record; replay it with -config")
	case side != "":
		fmt.Fprintf(io.err, "the config in force is in it, and beside it as %s\n", side)
	}
	switch rep.LeadIn {
	case exported.None:
		fmt.Fprintln(io.err, "what came before is not in it: a replay only comes near the verdicts of then")
	case exported.Damaged:
		fmt.Fprintln(io.err, "from the first frames that are missing on a replay may give other verdicts than then")
	}
}
