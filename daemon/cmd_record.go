package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"headroom/daemon/app"
	"headroom/daemon/journal"
	"headroom/daemon/record"
	"headroom/rules/units"
)

// cmdRecord lists what was recorded, or writes a part of it out.
func cmdRecord(_ context.Context, args []string, io stdio) error {
	if len(args) == 0 || strings.HasPrefix(args[0], "-") {
		args = append([]string{"list"}, args...)
	}
	switch args[0] {
	case "list":
		return recordList(args[1:], io)
	case "export":
		return recordExport(args[1:], io)
	case "journal":
		return recordJournal(args[1:], io)
	}
	fmt.Fprintf(io.err, "usage: headroom record list|export|journal [flags]\n")
	return errUsage
}

func recordList(args []string, io stdio) error {
	fs := flags("record list", "[flags]", io)
	folder := fs.String("record", "", "the record's `folder`; without it the default one")
	if err := parse(fs, args); err != nil {
		return err
	}
	dir, err := recordFolder(*folder, "")
	if err != nil {
		return err
	}
	runs, err := record.List(dir)
	if err != nil {
		return err
	}
	w := tabwriter.NewWriter(io.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "boot\tstarted\tlasts\tmachine\tsize\tnote")
	for _, r := range runs {
		fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%.1f MB\t%s\n", r.Boot, r.StartWall.Local().Format("2006-01-02 15:04:05"),
			units.Format(units.Duration, units.SI, (r.To-r.From).Seconds()), r.Machine, float64(r.Bytes)/1e6, r.Problem)
	}
	return w.Flush()
}

// recordJournal prints what people and outputs did.
func recordJournal(args []string, io stdio) error {
	fs := flags("record journal", "[flags]", io)
	folder := fs.String("record", "", "the record's `folder`; without it the default one")
	if err := parse(fs, args); err != nil {
		return err
	}
	dir, err := recordFolder(*folder, "")
	if err != nil {
		return err
	}
	entries, damaged, err := journal.Read(dir)
	for _, e := range entries {
		fmt.Fprintf(io.out, "%s  %s: %s %s", e.Wall.Local().Format("2006-01-02 15:04:05"), e.Who, e.What, e.To)
		if e.Detail != "" {
			fmt.Fprintf(io.out, " (%s)", e.Detail)
		}
		fmt.Fprintln(io.out)
	}
	if damaged > 0 {
		fmt.Fprintf(io.err, "%d lines of the journal can't be read\n", damaged)
	}
	return err
}

type exportFlags struct {
	folder, out string
	boot        uint64
	from, to    time.Duration
}

func recordExport(args []string, io stdio) error {
	var o exportFlags
	fs := flags("record export", "[flags]", io)
	fs.StringVar(&o.folder, "record", "", "the record's `folder`; without it the default one")
	fs.StringVar(&o.out, "o", "", "write to `FILE`, and the config in force beside it as .toml; without it to standard output")
	fs.Uint64Var(&o.boot, "boot", 0, "the `number` that list shows; 0 for the newest")
	fs.DurationVar(&o.from, "from", 0, "leave out what came before, as a time since the boot's start, for example 1h20m")
	fs.DurationVar(&o.to, "to", 0, "leave out what came after; 0 for all")
	if err := parse(fs, args); err != nil {
		return err
	}
	dir, err := recordFolder(o.folder, "")
	if err != nil {
		return err
	}
	run, err := findRun(dir, o.boot)
	if err != nil {
		return err
	}
	if o.out == "" {
		return export(io.out, dir, run, o, io)
	}
	return exportFile(dir, run, o, io)
}

func findRun(dir string, boot uint64) (record.Run, error) {
	runs, err := record.List(dir)
	if err != nil {
		return record.Run{}, err
	}
	if len(runs) == 0 {
		return record.Run{}, fmt.Errorf("nothing is recorded in %s", dir)
	}
	if boot == 0 {
		return runs[len(runs)-1], nil
	}
	for _, r := range runs {
		if r.Boot == boot {
			return r, nil
		}
	}
	return record.Run{}, fmt.Errorf("there is no boot %d in %s; headroom record list shows those there are", boot, dir)
}

func export(w io.Writer, dir string, run record.Run, o exportFlags, io stdio) error {
	rep, err := record.Export(w, dir, run.Boot, o.from, o.to)
	for _, p := range rep.Problems {
		fmt.Fprintln(io.err, p)
	}
	if err != nil {
		return err
	}
	if rep.Rows == 0 {
		return fmt.Errorf("boot %d has no frames between these times", run.Boot)
	}
	return nil
}

func exportFile(dir string, run record.Run, o exportFlags, io stdio) error {
	f, err := os.Create(o.out)
	if err != nil {
		return fmt.Errorf("cannot write the export: %w", err)
	}
	if err := errors.Join(export(f, dir, run, o, io), f.Close()); err != nil {
		return err
	}
	text, err := os.ReadFile(app.ConfigFile(dir, run.Config))
	if errors.Is(err, os.ErrNotExist) {
		fmt.Fprintln(io.err, "the config in force was not kept with this record; replay it with -config")
		return nil
	}
	if err != nil {
		return fmt.Errorf("cannot read the config of the record: %w", err)
	}
	side := ownConfig(o.out)
	if err := os.WriteFile(side, text, 0o644); err != nil {
		return fmt.Errorf("cannot write the config beside the export: %w", err)
	}
	fmt.Fprintf(io.err, "wrote %s, and the config in force as %s\n", o.out, side)
	return nil
}
