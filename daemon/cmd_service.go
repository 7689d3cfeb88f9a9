package main

import (
	"context"
	"fmt"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"headroom/daemon/service"
	"headroom/rules/units"
	"headroom/rules/wear"
)

// cmdService shows what is due, and notes what was done.
func cmdService(_ context.Context, args []string, io stdio) error {
	fs := flags("service", "[flags] [done TASK]", io)
	folder := fs.String("record", "", "the record's `folder`; without it the default one")
	conf := fs.String("config", "", "config `file` with the intervals; without it the default one")
	who := fs.String("who", "", "`name` of who did it")
	note := fs.String("note", "", "`text` to keep with it")
	if err := parse(fs, args); err != nil {
		return err
	}
	cfg, err := loadConfig(*conf)
	if err != nil {
		return err
	}
	dir, err := recordFolder(*folder, cfg.Record.Folder)
	if err != nil {
		return err
	}
	book, err := service.Load(dir)
	if err != nil {
		return err
	}
	switch {
	case fs.NArg() == 0:
		if book.Counters == (wear.Counters{}) && len(book.Entries) == 0 {
			fmt.Fprintf(io.out, "Nothing is counted in %s yet: what follows says nothing of a machine.\n", dir)
		}
		if err := printDue(&book, &cfg.Service, io); err != nil {
			return err
		}
		return printPractice(dir, io)
	case fs.Arg(0) == "done" && fs.NArg() > 1:
		name := strings.Join(fs.Args()[1:], " ")
		task, ok := service.TaskByName(name)
		if !ok {
			return fmt.Errorf("there is no task %q; the tasks are %s", name, strings.Join(taskNames(), ", "))
		}
		if _, err := os.Stat(dir); err != nil {
			return fmt.Errorf("there is no record in %s to keep a service book beside (%w): name its folder with -record; headroom run makes it", dir, err)
		}
		book.Done(task, time.Now(), *who, *note)
		if err := book.Save(dir); err != nil {
			return err
		}
		_, err := fmt.Fprintf(io.out, "%s: done, at %s and %d starts; written into the service book in %s\n", task,
			units.Format(units.Duration, units.SI, book.Counters.RunS), book.Counters.Starts, dir)
		return err
	}
	fs.Usage()
	return errUsage
}

// printPractice tells what isn't a part of the machine's life.
func printPractice(dir string, io stdio) error {
	p, err := service.LoadPractice(dir)
	if err != nil || p.Counters == (wear.Counters{}) {
		return err
	}
	_, err = fmt.Fprintf(io.out, "Not counted: %s with %d starts on a simulator or a recording.\n", units.Format(units.Duration, units.SI, p.Counters.RunS), p.Counters.Starts)
	return err
}

func taskNames() (names []string) {
	for t := range wear.NumTasks {
		names = append(names, t.String())
	}
	return names
}

func printDue(book *service.Book, intervals *[wear.NumTasks]wear.Interval, io stdio) error {
	c := book.Counters
	fmt.Fprintf(io.out, "The pump has run %s in %d uses with %d starts.\n\n", units.Format(units.Duration, units.SI, c.RunS), c.Uses, c.Starts)
	w := tabwriter.NewWriter(io.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "task\tstate\tleft")
	for t, d := range book.Due(intervals) {
		if intervals[t] == (wear.Interval{EveryUses: 1}) {
			fmt.Fprintf(w, "%s\teach use\t%s\n", wear.Task(t), eachUse(book, wear.Task(t)))
			continue
		}
		fmt.Fprintf(w, "%s\t%s\t%s\n", wear.Task(t), d.Status, leftWords(d))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintln(io.out, "\nIntervals are common practice, no source: the maker's book of your pump decides (config, [service]).")
	return err
}

// eachUse tells of a task that comes before every use: it is never overdue on a
// machine that is new, and calling it due after each use would teach people to
// look past the word.
func eachUse(book *service.Book, t wear.Task) string {
	last := book.Last(t)
	if !last.Done {
		return "not noted yet"
	}
	return "noted " + counted(int(book.Counters.Uses-min(last.At.Uses, book.Counters.Uses)), "use") + " ago"
}

func leftWords(d wear.Due) string {
	var parts []string
	if d.ByTime {
		parts = append(parts, units.Format(units.Duration, units.SI, d.LeftS))
	}
	if d.ByStarts {
		parts = append(parts, counted(int(d.LeftStarts), "start"))
	}
	if d.ByUses {
		parts = append(parts, counted(int(d.LeftUses), "use"))
	}
	return strings.Join(parts, ", ")
}
