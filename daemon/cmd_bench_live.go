package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	goio "io"
	"strings"
	"time"

	"headroom/daemon/bench"
	"headroom/daemon/config"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/csvfile"
)

// playFrames takes every frame of a recording; the session is left running
// where the recording ends too early, and the test stays partial.
func playFrames(ctx context.Context, s *bench.Session, e *engine.Engine, reader *csvfile.Reader, store *bench.Store) error {
	var state engine.State
	var f frame.Frame
	for n := 0; !s.Done(); n++ {
		if n%4096 == 0 && ctx.Err() != nil {
			return context.Cause(ctx)
		}
		t, wall, err := reader.Next(&f)
		if errors.Is(err, goio.EOF) {
			s.Abort("the recording ended", wall)
			return nil
		}
		if err != nil {
			return err
		}
		if s.Feed(bench.InputOf(e.Step(&state, &f, t), wall)) {
			if err := store.Save(s.Record()); err != nil {
				return err
			}
		}
	}
	return nil
}

// follow leads a person through the test on this machine's sensors.
func (o *benchFlags) follow(ctx context.Context, s *bench.Session, cfg *config.Config, store *bench.Store, sys units.System, io stdio) error {
	if !cfg.Sensors.Any() {
		return errors.New("the config has no sensors: write -config FILE of your machine, -sim new to try it out, or -playback FILE")
	}
	l, err := newLive(&runFlags{config: o.config}, io)
	if err != nil {
		return err
	}
	e, err := engine.New(cfg.Engine)
	if err != nil {
		return fmt.Errorf("cannot use the config: %w", err)
	}
	stop := l.start(ctx)
	defer stop()
	t := benchTalk{s: s, store: store, sys: sys, io: io, lines: readLines(ctx, io.in)}
	return t.loop(ctx, l, e)
}

// benchTalk is the dialogue at a terminal.
type benchTalk struct {
	s     *bench.Session
	store *bench.Store
	sys   units.System
	io    stdio
	lines <-chan string
	shown string
	said  string
	spoke time.Time
}

// benchTick is the time between two frames.
const benchTick = 100 * time.Millisecond

func (t *benchTalk) loop(ctx context.Context, l *live, e *engine.Engine) error {
	var state engine.State
	var f frame.Frame
	tick := time.NewTicker(benchTick)
	defer tick.Stop()
	fmt.Fprintln(t.io.out, "Type: ready, take, skip WHY, back, abort WHY, or a value such as 7.5 L/min off 0.05 L/min. Ctrl-C keeps the test, to be resumed.")
	for !t.s.Done() {
		t.tell()
		select {
		case <-ctx.Done():
			return context.Cause(ctx)
		case line, ok := <-t.lines:
			if !ok {
				t.lines = nil
				continue
			}
			if err := t.act(line); err != nil {
				fmt.Fprintln(t.io.out, "  "+err.Error())
			}
			if err := t.store.Save(t.s.Record()); err != nil {
				return err
			}
		case <-tick.C:
			l.board.Frame(l.clock(), &f)
			if t.s.Feed(bench.InputOf(e.Step(&state, &f, l.clock()), time.Now())) {
				if err := t.store.Save(t.s.Record()); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// tell prints a new step, and now and then what it waits for.
func (t *benchTalk) tell() {
	v := t.s.View(t.sys)
	if key := fmt.Sprint(v.Number, len(t.s.Record().Points)); key != t.shown {
		t.shown, t.said = key, ""
		fmt.Fprintf(t.io.out, "\n%2d/%d %s\n", v.Number, v.Of, v.Todo)
	}
	if v.Waiting != "" && v.Waiting != t.said && time.Since(t.spoke) > 2*time.Second {
		t.said, t.spoke = v.Waiting, time.Now()
		fmt.Fprintf(t.io.out, "  %s\n", v.Waiting)
	}
}

// act does what a line says.
func (t *benchTalk) act(line string) error {
	word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
	switch word {
	case "":
	case "ready":
		return t.s.Ready()
	case "take":
		return t.s.Take()
	case "skip":
		return t.s.Skip(rest, time.Now())
	case "back":
		return t.s.Back()
	case "abort":
		t.s.Abort(rest, time.Now())
	default:
		return t.enter(line)
	}
	return nil
}

// enter reads "7.5 L/min off 0.05 L/min".
func (t *benchTalk) enter(line string) error {
	q := t.s.View(t.sys).Quantity
	value, off, found := strings.Cut(line, "off")
	v, err := units.Parse(q, strings.TrimSpace(value))
	half, errOff := units.Parse(q, strings.TrimSpace(off))
	if err != nil || errOff != nil || !found {
		return fmt.Errorf("%q is neither a word nor a value with how far it may be off: write for example %s off %s", line,
			units.Format(q, t.sys, 1e-4), units.Format(q, t.sys, 1e-6))
	}
	return t.s.Enter(v, half, time.Now())
}

// readLines hands lines over until the input or ctx ends.
func readLines(ctx context.Context, in goio.Reader) <-chan string {
	out := make(chan string)
	go func() {
		defer close(out)
		sc := bufio.NewScanner(in)
		for sc.Scan() {
			select {
			case out <- sc.Text():
			case <-ctx.Done():
				return
			}
		}
	}()
	return out
}
