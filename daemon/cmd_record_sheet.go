package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"

	"headroom/daemon/exported"
	"headroom/daemon/store"
	"headroom/rules/units"
)

type sheetFlags struct {
	exportFlags
	units, decimal string
	step           time.Duration
	force          bool
}

// recordSheet writes a run as a table for a spreadsheet.
func recordSheet(ctx context.Context, args []string, io stdio) error {
	var o sheetFlags
	fs := flags("record sheet", "[flags]", io)
	fs.StringVar(&o.folder, "record", "", "the record's `folder`; without it the default one")
	fs.StringVar(&o.out, "o", "", "write to `FILE`, which a spreadsheet opens; without it to standard output")
	fs.BoolVar(&o.force, "force", false, "replace FILE where it exists")
	fs.StringVar(&o.run, "run", "", "the `run` that list shows, 12.3, or a whole boot, 12; without it the newest boot")
	fs.StringVar(&o.units, "units", "", "US or SI; without it US")
	fs.StringVar(&o.decimal, "decimal", ".", "decimal `mark`; with a comma the fields are parted by semicolons")
	fs.DurationVar(&o.step, "step", time.Second, "time that a row stands for; its cells are means")
	fs.DurationVar(&o.from, "from", 0, "begin later, as a time since the run's start, for example 1m30s")
	fs.DurationVar(&o.to, "to", 0, "end earlier; 0 for all")
	if err := parse(fs, args); err != nil {
		return err
	}
	sheet, err := o.sheet()
	if err != nil {
		return err
	}
	return withRecord(o.folder, func(dir string, r *store.Reader) error {
		if sheet.Run, err = o.runOf(ctx, r, dir); err != nil {
			return err
		}
		info, err := store.BootInfo(ctx, r, sheet.Run.Boot)
		if err != nil {
			return err
		}
		sheet.Note = info.Source.Band()
		if o.out == "" {
			_, err := exported.WriteSheet(ctx, io.out, r, sheet)
			return err
		}
		return o.write(ctx, r, sheet, io)
	})
}

func (o *sheetFlags) sheet() (s exported.Sheet, err error) {
	s = exported.Sheet{From: o.from, To: o.to, Step: o.step, Units: units.US, Zone: time.Local, DecimalComma: o.decimal == ","}
	if o.decimal != "." && o.decimal != "," {
		return s, fmt.Errorf("-decimal %q is no decimal mark; write . or ,", o.decimal)
	}
	if o.step < 100*time.Millisecond {
		return s, fmt.Errorf("-step %v is shorter than a frame; write 100ms or more", o.step)
	}
	if o.units != "" {
		s.Units, err = parseUnits(o.units)
	}
	return s, err
}

// write writes the table into a new file, and takes away what could not be
// finished.
func (o *sheetFlags) write(ctx context.Context, r *store.Reader, s exported.Sheet, to stdio) error {
	how := os.O_CREATE | os.O_WRONLY | os.O_TRUNC
	if !o.force {
		how |= os.O_EXCL
	}
	f, err := os.OpenFile(o.out, how, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s exists already: name another file, or add -force to replace it", o.out)
	}
	if err != nil {
		return fmt.Errorf("cannot write the table: %w", err)
	}
	rows, err := exported.WriteSheet(ctx, io.Writer(f), r, s)
	if err := errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, os.Remove(o.out))
	}
	fmt.Fprintf(to.err, "wrote %s: %s, %s units, times of %s\n", o.out, counted(rows, "row"), s.Units, s.Zone)
	return nil
}
