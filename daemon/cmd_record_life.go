package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"text/tabwriter"

	"headroom/daemon/service"
	"headroom/daemon/store"
	"headroom/daemon/wholefile"
	"headroom/rules/units"
	"headroom/rules/wear"
)

// recordLife shows the machine's counters, and carries them from one record to
// another.
func recordLife(ctx context.Context, args []string, io stdio) error {
	fs := flags("record life", "[flags]", io)
	folder := recordFlag(fs)
	system := fs.String("units", "US", "US or SI")
	out := fs.String("export", "", "write the counters to `FILE`, for a new record or another computer")
	in := fs.String("import", "", "add the counters in `FILE`, which another record wrote; twice is once")
	if err := parse(fs, args); err != nil {
		return err
	}
	sys, err := parseUnits(*system)
	switch {
	case err != nil:
		return err
	case *out != "" && *in != "":
		return errors.New("-export and -import can't both be: leave one out")
	case *in != "":
		dir, err := recordFolder(*folder, "")
		if err != nil {
			return err
		}
		return importLife(ctx, dir, *in, io)
	}
	return withRecord(*folder, func(dir string, r *store.Reader) error {
		parts, err := r.LifeParts(ctx)
		if err != nil {
			return err
		}
		if *out == "" {
			practice, err := r.Practice(ctx)
			if err != nil {
				return err
			}
			return printLife(parts, &practice, sys, io)
		}
		return exportLife(dir, parts, *out, io)
	})
}

func printLife(parts []store.LifeOf, practice *store.Sums, sys units.System, io stdio) error {
	var all store.Sums
	for i := range parts {
		all.Add(&parts[i].Sums)
	}
	w := tabwriter.NewWriter(io.out, 0, 0, 2, ' ', 0)
	line := func(what string, q units.Quantity, v float64) {
		fmt.Fprintf(w, "%s\t%s\n", what, units.Format(q, sys, v))
	}
	for _, state := range slices.Sorted(maps.Keys(all.InStateS)) {
		line(strings.ReplaceAll(state, "_", " "), units.Duration, all.InStateS[state])
	}
	fmt.Fprintf(w, "starts\t%d\n", all.Starts)
	if all.MeasuredWater() {
		line("water", units.Volume, all.WaterM3)
	} else {
		fmt.Fprint(w, "water\tnot measured\n")
	}
	line("energy (volts times amps)", units.Energy, all.EnergyJ)
	for i := range parts[1:] {
		p := &parts[i+1]
		fmt.Fprintf(w, "of these from record %s\t%s\n", p.Record, counted(int(p.Sums.Frames), "frame"))
	}
	if practice.Frames > 0 {
		fmt.Fprintf(w, "not counted: practice\t%s on a simulator or a recording\n", counted(int(practice.Frames), "frame"))
	}
	return w.Flush()
}

func exportLife(dir string, parts []store.LifeOf, path string, io stdio) error {
	parts = slices.DeleteFunc(parts, func(l store.LifeOf) bool { return l.Sums.Frames == 0 })
	book, err := service.Load(dir)
	if err != nil {
		return err
	}
	if len(parts) == 0 && unused(&book) {
		return fmt.Errorf("nothing is counted in %s yet", dir)
	}
	bookText, err := json.Marshal(&book)
	if err != nil {
		return fmt.Errorf("cannot write the service book: %w", err)
	}
	text, err := store.EncodeLife(parts, bookText)
	if err == nil {
		err = wholefile.Write(path, text)
	}
	if err != nil {
		return fmt.Errorf("cannot write the counters: %w", err)
	}
	fmt.Fprintf(io.err, "wrote %s: the counters of %s, and the service book with %s\n",
		path, counted(len(parts), "record"), plainly(len(book.Entries), "entry", "entries"))
	return nil
}

func unused(b *service.Book) bool { return b.Counters == (wear.Counters{}) && len(b.Entries) == 0 }

// importBook takes a service book over where there is none yet: two can't be
// added up without doubling what stands in both.
func importBook(dir string, text []byte, io stdio) error {
	var book service.Book
	if len(text) == 0 {
		return nil
	}
	if err := json.Unmarshal(text, &book); err != nil {
		return fmt.Errorf("cannot read the service book in the file: %w", err)
	}
	have, err := service.Load(dir)
	switch {
	case err != nil:
		return err
	case unused(&book):
	case unused(&have):
		if err := book.Save(dir); err != nil {
			return err
		}
		fmt.Fprintf(io.out, "service book, %s: added\n", plainly(len(book.Entries), "entry", "entries"))
	default:
		fmt.Fprintln(io.out, "service book: left as it is, as there is one here already")
	}
	return nil
}

func importLife(ctx context.Context, dir, path string, io stdio) error {
	text, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("cannot read the counters: %w", err)
	}
	file, err := store.DecodeLife(text)
	if err != nil {
		return fmt.Errorf("cannot use %s: %w", path, err)
	}
	taken, err := store.ImportLife(ctx, dir, file.Parts, versionString())
	if err != nil {
		return err
	}
	for i := range taken {
		t := &taken[i]
		what := "added"
		if t.Why != "" {
			what = "left out, as " + t.Why
		}
		fmt.Fprintf(io.out, "record %s, %s, %s: %s\n", t.Record, t.Machine, counted(int(t.Sums.Frames), "frame"), what)
	}
	return importBook(dir, file.Book, io)
}
