package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"headroom/daemon/app"
	"headroom/daemon/store"
	"headroom/rules/engine"
	"headroom/rules/units"
	"headroom/rules/words"
)

// recordCommands are the words that may follow "record".
var recordCommands = []struct {
	name string
	run  func(ctx context.Context, args []string, io stdio) error
}{
	{"list", recordList}, {"journal", recordJournal}, {"export", recordExport},
	{"import", recordImport}, {"life", recordLife}, {"verify", recordVerify}, {"sheet", recordSheet},
}

// cmdRecord looks into the record, and takes parts of it out and in.
func cmdRecord(ctx context.Context, args []string, io stdio) error {
	if len(args) == 0 || strings.HasPrefix(args[0], "-") {
		args = append([]string{"list"}, args...)
	}
	var names []string
	for _, c := range recordCommands {
		if c.name == args[0] {
			return c.run(ctx, args[1:], io)
		}
		names = append(names, c.name)
	}
	fmt.Fprintf(io.err, "usage: headroom record %s [flags]\n", strings.Join(names, "|"))
	return errUsage
}

// withRecord opens the record for reading, and closes it afterwards.
func withRecord(folder string, use func(dir string, r *store.Reader) error) (err error) {
	dir, err := recordFolder(folder, "")
	if err != nil {
		return err
	}
	defer func() { err = damagedRecord(dir, err) }()
	r, err := store.OpenReader(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return noRecord(dir)
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	return use(dir, r)
}

// damagedRecord says what to do about a damaged database; other errors stay as
// they are.
func damagedRecord(dir string, err error) error {
	if !store.IsDamaged(err) {
		return err
	}
	return fmt.Errorf("the record in %s is damaged (%w). Copy the folder away first; then start headroom run with -record %s: it takes all that is whole over into a new record.db and keeps the damaged one beside it", dir, err, dir)
}

// noRecord says that a folder holds none, and where one may be.
func noRecord(dir string) error {
	if old, _ := filepath.Glob(filepath.Join(dir, "boot-*", "frames-*.csv")); len(old) > 0 {
		return fmt.Errorf("%s holds recordings of an earlier version only: read them with headroom replay %s", dir, old[len(old)-1])
	}
	return fmt.Errorf("there is no record in %s; name its folder with -record", dir)
}

// recordFlag is the flag that all of them have.
func recordFlag(fs interface {
	String(name, value, usage string) *string
}) *string {
	return fs.String("record", "", "the record's `folder`; without it the default one")
}

func recordList(ctx context.Context, args []string, io stdio) error {
	fs := flags("record list", "[flags]", io)
	folder := recordFlag(fs)
	most := fs.Int("n", 0, "only the newest `number` of runs; 0 for all")
	if err := parse(fs, args); err != nil {
		return err
	}
	return withRecord(*folder, func(dir string, r *store.Reader) error {
		boots, err := r.Boots(ctx)
		if err != nil {
			return err
		}
		runs, err := r.ListEntries(ctx, *most)
		if err != nil {
			return err
		}
		if len(boots) == 0 {
			return fmt.Errorf("nothing is recorded in %s", dir)
		}
		w := tabwriter.NewWriter(io.out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "run\treadings\tstarted\tlasts\tmachine\talarms\tcame first\tended")
		for i := range runs {
			printRun(w, &runs[i], app.InUse(dir))
		}
		if err := w.Flush(); err != nil {
			return err
		}
		printIdle(io, boots, runs, *most)
		return nil
	})
}

func printRun(w *tabwriter.Writer, r *store.Run, inUse bool) {
	name, ended := r.ID.String(), r.Ended
	if r.ID.N == 0 {
		name, ended = strconv.FormatUint(r.ID.Boot, 10), "outside of runs"
	} else if ended == "" && inUse {
		ended = "goes on"
	} else if ended == "" {
		ended = "cut off; no program records now"
	}
	if r.Source.Imported() {
		ended += "; imported from " + r.Source.Name
	}
	fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%d\t%s\t%s\n", name, r.Source.Short(), started(r.StartWall),
		units.Format(units.Duration, units.SI, (r.End-r.Start).Seconds()), r.Machine, r.Raised, alarmWords(r.FirstOut), ended)
}

// alarmWords is an alarm as people know it; a name of another version stays.
func alarmWords(name string) string {
	id, ok := engine.AlarmByName(name)
	if !ok {
		return name
	}
	return words.Alarm(id).Title
}

// started is a time as people read it, in their own zone.
func started(wall time.Time) string {
	if wall.IsZero() {
		return "not known"
	}
	return wall.Local().Format("2006-01-02 15:04:05")
}

// printIdle names boots in which the pump never ran: they can be exported too.
func printIdle(io stdio, boots []store.Info, runs []store.Run, most int) {
	if most > 0 {
		return
	}
	ran := map[uint64]bool{}
	for i := range runs {
		if runs[i].ID.N > 0 {
			ran[runs[i].ID.Boot] = true
		}
	}
	var idle []string
	for i := range boots {
		if !ran[boots[i].Boot] {
			idle = append(idle, fmt.Sprint(boots[i].Boot))
		}
	}
	if len(idle) > 0 {
		fmt.Fprintf(io.out, "Without a run: %s %s.\n", plural(len(idle), "boot"), strings.Join(idle, ", "))
	}
}

// plural is a word for one thing, or for several.
func plural(n int, word string) string {
	if n == 1 {
		return word
	}
	return word + "s"
}

// plainly is a number with its thing, where the plural is another word.
func plainly(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// recordJournal prints what people and outputs did.
func recordJournal(ctx context.Context, args []string, io stdio) error {
	fs := flags("record journal", "[flags]", io)
	folder := recordFlag(fs)
	run := fs.String("run", "", "only of this `run`, 12.3, or this boot, 12")
	if err := parse(fs, args); err != nil {
		return err
	}
	return withRecord(*folder, func(_ string, r *store.Reader) error {
		ids, err := bootsOrRun(ctx, r, *run)
		if err != nil {
			return err
		}
		for _, id := range ids {
			acts, err := r.Acts(ctx, id)
			if err != nil {
				return err
			}
			for i := range acts {
				if err := printAct(ctx, io, r, &acts[i]); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// bootsOrRun is the one that was asked for, or all boots.
func bootsOrRun(ctx context.Context, r *store.Reader, run string) (ids []store.RunID, err error) {
	if run != "" {
		id, err := store.ParseRunID(run)
		return []store.RunID{id}, err
	}
	boots, err := r.Boots(ctx)
	for i := range boots {
		ids = append(ids, store.RunID{Boot: boots[i].Boot})
	}
	return ids, err
}

func printAct(ctx context.Context, io stdio, r *store.Reader, a *store.Act) error {
	wall, known, err := r.WallAt(ctx, a.Boot, a.T)
	if err != nil {
		return err
	}
	if !known {
		wall = a.Wall
	}
	who := a.Who
	if who == "" {
		who = "somebody"
	}
	fmt.Fprintf(io.out, "%s  %s: %s", started(wall), who, strings.ReplaceAll(a.What, "_", " "))
	if a.Alarm != "" {
		fmt.Fprintf(io.out, " %s", a.Alarm)
	}
	if n := len(a.With); n > 0 {
		fmt.Fprintf(io.out, " and %s with it", plainly(n, "other alarm", "others"))
	}
	if a.For > 0 {
		fmt.Fprintf(io.out, " for %s", units.Format(units.Duration, units.SI, a.For.Seconds()))
	}
	if a.Text != "" {
		fmt.Fprintf(io.out, " (%s)", a.Text)
	}
	fmt.Fprintln(io.out)
	return nil
}
