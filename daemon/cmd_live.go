package main

import (
	"context"
	"fmt"
	goio "io"
	"log/slog"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"headroom/daemon/config"
	"headroom/daemon/hardware"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors"
)

// cmdLive shows what every channel reads, for the day of wiring.
func cmdLive(ctx context.Context, args []string, io stdio) error {
	var o runFlags
	fs := flags("live", "-config FILE [-once]", io)
	fs.StringVar(&o.config, "config", "", "config `file`; without it the default one, which simulates")
	fs.StringVar(&o.record, "record", "", "`folder` of the record, for the calibrations beside it")
	once := fs.Bool("once", false, "print one table when every channel has spoken, and fail if one is not good")
	wait := fs.Duration("wait", 5*time.Second, "with -once, how long to wait for the channels")
	if err := parse(fs, args); err != nil {
		return err
	}
	l, err := newLive(&o, io)
	if err != nil {
		return err
	}
	stop := l.start(ctx)
	defer stop()
	if *once {
		return l.once(ctx, *wait)
	}
	return l.follow(ctx)
}

// live is the sensors without the rules: what the drivers say and no more.
type live struct {
	cfg     *config.Config
	drivers []sensors.Driver
	raw     func(frame.Channel) string
	board   *sensors.Board
	clock   func() time.Duration
	out     goio.Writer
	// screen is set where the table may be drawn over.
	screen bool
	log    *slog.Logger
}

func newLive(o *runFlags, io stdio) (*live, error) {
	cfg, _, err := loadWithText(o.config)
	if err != nil {
		return nil, err
	}
	l := &live{cfg: cfg, out: io.out, raw: func(frame.Channel) string { return "" }, log: slog.New(slog.DiscardHandler)}
	if f, ok := io.out.(*os.File); ok {
		info, err := f.Stat()
		l.screen = err == nil && info.Mode()&os.ModeCharDevice != 0
	}
	if o.watchesHardware(cfg) {
		err = l.hardware(o, io)
	} else {
		l.drivers, err = o.drivers(cfg, l.log)
	}
	if err != nil {
		return nil, err
	}
	l.board = sensors.NewBoard(cfg.Stale)
	began := time.Now()
	l.clock = func() time.Duration { return time.Since(began) }
	return l, nil
}

func (l *live) hardware(o *runFlags, io stdio) error {
	var cal *hardware.Calibrations
	store, err := calibrations(o.record, l.cfg)
	if err != nil {
		fmt.Fprintf(io.err, "headroom: no calibrations: %v\n", err)
	} else {
		cal = hardware.NewCalibrations(store, nil)
	}
	set, err := hardware.Env{}.Build(l.cfg, cal)
	if err != nil {
		return err
	}
	l.drivers, l.raw = set.Drivers, set.Raw
	return nil
}

// start runs the drivers; stop ends them and waits a moment for the last.
func (l *live) start(ctx context.Context) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	sup := &sensors.Supervisor{Board: l.board, Clock: l.clock, Log: l.log}
	ended := make(chan struct{}, len(l.drivers))
	for _, d := range l.drivers {
		go func() {
			sup.Run(ctx, d)
			ended <- struct{}{}
		}()
	}
	return func() {
		cancel()
		late := time.After(2 * time.Second)
		for range l.drivers {
			select {
			case <-ended:
			case <-late:
				return // one hangs in a system call
			}
		}
	}
}

// once prints one table as soon as every fitted channel has spoken.
func (l *live) once(ctx context.Context, wait time.Duration) error {
	end := time.After(wait)
	look := time.NewTicker(50 * time.Millisecond)
	defer look.Stop()
	for waiting := true; waiting && l.silent() > 0; {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-end:
			waiting = false
		case <-look.C:
		}
	}
	bad, all := l.table()
	if bad > 0 {
		return fmt.Errorf("%d of %d channels are not good", bad, all)
	}
	return nil
}

func (l *live) silent() (n int) {
	var f frame.Frame
	l.board.Frame(l.clock(), &f)
	for _, s := range f.Samples {
		if s.Status == frame.Missing {
			n++
		}
	}
	return n
}

// follow prints the table every second until ctx ends.
func (l *live) follow(ctx context.Context) error {
	t := time.NewTicker(time.Second)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-t.C:
		}
		if l.screen {
			fmt.Fprint(l.out, "\x1b[H\x1b[2J") // to the corner, and clear
		}
		l.table()
		fmt.Fprintln(l.out, "Ctrl-C ends it. These are the sensors' own words; no rule has judged them.")
	}
}

// table prints one line a fitted channel. A value that isn't good is no number
// here either; its raw signal is what there is to look at.
func (l *live) table() (bad, all int) {
	var f frame.Frame
	l.board.Frame(l.clock(), &f)
	notes := l.board.Notes()
	w := tabwriter.NewWriter(l.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "CHANNEL\tRAW\tVALUE\tUNIT\tSTATUS\tREASON")
	for c, s := range f.Samples {
		ch := frame.Channel(c)
		if s.Status == frame.NotFitted {
			continue
		}
		all++
		value, unit := "--", units.For(ch.Quantity(), l.cfg.Units).Symbol
		if s.OK() {
			value, unit = shown(ch.Quantity(), l.cfg.Units, s.Value)
		} else {
			bad++
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\n", ch, orDash(l.raw(ch)), value, orDash(unit), s.Status, strings.ReplaceAll(notes[c], "\n", " "))
	}
	_ = w.Flush() // a terminal that is gone ends the program by itself
	return bad, all
}

func orDash(text string) string {
	if text == "" {
		return "-"
	}
	return text
}

// shown cuts what people read into number and unit.
func shown(q units.Quantity, s units.System, si float64) (value, unit string) {
	value, unit, _ = strings.Cut(units.Format(q, s, si), " ")
	return value, unit
}
