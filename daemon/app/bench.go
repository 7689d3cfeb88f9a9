package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"time"

	"headroom/daemon/bench"
	"headroom/daemon/config"
	"headroom/daemon/snapshot"
	"headroom/daemon/wholefile"
	"headroom/dashboard"
	"headroom/rules/units"
)

// Bench leads through tests of pumps while the program runs, one at a time, and
// keeps them beside the record. It implements dashboard.Bench and is safe for
// use by many goroutines. It takes its frames from what the tick has published,
// so that the tick never waits for it.
type Bench struct {
	opt   benchOptions
	store *bench.Store

	mu sync.Mutex
	// session is the test that is under way, or that ended last; nil for none.
	session *bench.Session
	// unkept is why the newest state of it isn't on the medium; nil when it is.
	unkept  error
	triedAt time.Time
	// fed is the number of the last tick that was fed.
	fed  uint64
	wake chan struct{}
}

type benchOptions struct {
	// folder of the tests and the own library.
	folder string
	config *config.Config
	// configFile may take a baseline; empty for none.
	configFile string
	// source says where readings come from, in words.
	source string
	frames *snapshot.Store
	wall   func() time.Time
	log    *slog.Logger
}

// libraryFile holds the person's own library, once there is one.
const libraryFile = "library.toml"

// saveAgain is how long after a failure the test is tried to be kept again.
const saveAgain = time.Second

// newBench makes the program's own; nil without a folder to keep tests in.
func (a *App) newBench() *Bench {
	if a.opt.Folder == "" {
		return nil
	}
	source := a.opt.Source
	if source == "" {
		source = bench.OwnSensors
	}
	return makeBench(benchOptions{
		folder: filepath.Join(a.opt.Folder, "bench"), config: a.opt.Config, configFile: a.opt.ConfigFile,
		source: source, frames: a.store, wall: a.wall, log: a.log,
	})
}

func makeBench(o benchOptions) *Bench {
	return &Bench{opt: o, store: bench.NewStore(o.folder), wake: make(chan struct{}, 1)}
}

// run takes up the test that the program's last end interrupted, which waits for
// a person's word, and feeds the one under way until ctx ends. A nil Bench does nothing.
func (b *Bench) run(ctx context.Context) {
	if b == nil {
		return
	}
	b.reopenLast()
	for ctx.Err() == nil {
		changed := b.opt.frames.Changed()
		if !b.busy() {
			select {
			case <-ctx.Done():
			case <-b.wake:
			}
			continue
		}
		b.feed()
		select {
		case <-ctx.Done():
		case <-changed:
		}
	}
}

// busy reports whether frames are wanted, or a test still has to be kept.
func (b *Bench) busy() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.session != nil && (!b.session.Done() || b.unkept != nil)
}

// reopenLast takes up the newest test that was cut off, where its readings came
// from where they come from now. It waits for a person's word: days may have
// passed, and the pump may be at work.
func (b *Bench) reopenLast() {
	all, bad := b.store.List()
	for _, err := range bad {
		b.opt.log.Warn("a bench test can't be read", "error", err)
	}
	for i := len(all) - 1; i >= 0; i-- {
		if r := all[i]; r.State == bench.Running && r.Source == b.opt.source {
			if err := b.reopen(r); err != nil {
				b.opt.log.Warn("a bench test can't be taken up", "test", r.ID, "error", err)
			}
			return
		}
	}
}

func (b *Bench) reopen(r *bench.Record) error {
	s, err := bench.Reopen(r)
	if err != nil {
		return err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.free(); err != nil {
		return err
	}
	b.put(s)
	b.opt.log.Info("a bench test was cut off and waits for a person's word to go on", "test", r.ID)
	return nil
}

// feed takes the ticks since the last one.
func (b *Bench) feed() {
	last := b.opt.frames.Latest()
	b.mu.Lock()
	defer b.mu.Unlock()
	if last == nil || b.session == nil || last.Seq <= b.fed {
		return
	}
	changed := false
	if last.Seq > b.fed+1 && b.fed > 0 {
		for _, p := range b.opt.frames.Points(catchUp) {
			if p.Seq > b.fed && p.Seq < last.Seq {
				changed = b.session.Feed(bench.Input{T: p.Mono, Wall: p.Wall, Samples: p.Samples}) || changed
			}
		}
	}
	changed = b.session.Feed(bench.Input{T: last.Mono, Wall: last.Wall, Samples: last.Verdicts.Samples}) || changed
	b.fed = last.Seq
	if changed || b.unkept != nil && time.Since(b.triedAt) > saveAgain {
		_ = b.keep() // the page says it, and it is tried again
	}
}

// catchUp is how far back missed ticks are looked for.
const catchUp = 5 * time.Second

// keep writes the present test; b.mu is held.
func (b *Bench) keep() error {
	b.triedAt = time.Now()
	err := b.store.Save(b.session.Record())
	if err != nil && b.unkept == nil {
		b.opt.log.Error("a bench test can't be kept", "error", err)
	}
	b.unkept = err
	return err
}

// take puts a session under way and keeps it; b.mu is held.
func (b *Bench) take(s *bench.Session) error {
	b.put(s)
	return b.keep()
}

// put puts a session under way; b.mu is held.
func (b *Bench) put(s *bench.Session) {
	b.session, b.fed = s, 0
	if last := b.opt.frames.Latest(); last != nil {
		b.fed = last.Seq
	}
	select {
	case b.wake <- struct{}{}:
	default:
	}
}

// free refuses while a test is under way; b.mu is held.
func (b *Bench) free() error {
	if b.session != nil && !b.session.Done() {
		id := b.session.Record().ID
		if b.session.Halted() {
			return fmt.Errorf("the test %s was cut off and waits: go on with it, or end it, first", id)
		}
		return fmt.Errorf("the test %s is under way: end it first", id)
	}
	return nil
}

// Source says where readings come from.
func (b *Bench) Source() string { return b.opt.source }

// Begin begins a test of s's pump by s's plan. Instruments, limits and the
// place come from the library and the config.
func (b *Bench) Begin(s bench.Setup) (id string, err error) {
	lib, _, err := b.Library()
	if err != nil {
		return "", err
	}
	m := &b.opt.config.Engine.Machine
	s.Instruments, s.Limits, s.Source = lib.Instruments, lib.Limits(s.Pump), b.opt.source
	s.AltitudeM, s.BoreM, s.Began = m.AltitudeM, m.InletBoreM, b.opt.wall()
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.free(); err != nil {
		return "", err
	}
	session, err := bench.NewSession(s)
	if err != nil {
		return "", err
	}
	if id = session.Record().ID; b.store.Has(id) {
		return "", errors.New("a test of this pump began this very second: try again")
	}
	return id, b.take(session)
}

// Resume goes on with a test that was interrupted, at a person's word: one that
// is kept, or the one that waits since the program's start.
func (b *Bench) Resume(id string) error {
	if went, err := b.goOn(id); went {
		return err
	}
	r, err := b.store.Load(id)
	if err != nil {
		return err
	}
	if r.Source != b.opt.source {
		return fmt.Errorf("the test %s was begun on %s, and readings come from %s now", id, r.Source, b.opt.source)
	}
	return b.resume(r, "gone on with from the dashboard")
}

// goOn goes on with the test that waits; went is false where it is another one.
func (b *Bench) goOn(id string) (went bool, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch {
	case b.session == nil || b.session.Done() || b.session.Record().ID != id:
		return false, nil
	case !b.session.Halted():
		return true, fmt.Errorf("the test %s is under way already", id)
	}
	if err := b.session.GoOn("the program was started again; gone on with from the dashboard", b.opt.wall()); err != nil {
		return true, err
	}
	if err := b.keep(); err != nil {
		return true, fmt.Errorf("it goes on, but that is not kept yet: %w", err)
	}
	return true, nil
}

func (b *Bench) resume(r *bench.Record, why string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.free(); err != nil {
		return err
	}
	s, err := bench.Resume(r, false, why, b.opt.wall())
	if err != nil {
		return err
	}
	return b.take(s)
}

// Do acts on the test under way and keeps the outcome.
func (b *Bench) Do(id string, act func(s *bench.Session, now time.Time) error) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.session == nil || b.session.Record().ID != id {
		return fmt.Errorf("the test %s is not under way", id)
	}
	if err := act(b.session, b.opt.wall()); err != nil {
		return err
	}
	if err := b.keep(); err != nil {
		return fmt.Errorf("it is done, but not kept yet: %w", err)
	}
	return nil
}

// Look returns the test under way, or the one that ended last; ok is false
// where there was none since the program's start.
func (b *Bench) Look(sys units.System) (l dashboard.BenchLook, ok bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.session == nil {
		return l, false
	}
	return dashboard.BenchLook{View: b.session.View(sys), Standings: b.session.Standings(), Record: b.session.Record(), Unkept: b.unkept}, true
}

// Tests returns every test that can be read, the oldest first, and one error
// for each that can't.
func (b *Bench) Tests() ([]*bench.Record, []error) { return b.store.List() }

// Test returns one test as it is kept.
func (b *Bench) Test(id string) (*bench.Record, error) { return b.store.Load(id) }

// Library returns the library in use and its text: the person's own once there
// is one, or the invented one.
func (b *Bench) Library() (*bench.Library, string, error) {
	data, err := os.ReadFile(filepath.Join(b.opt.folder, libraryFile))
	if errors.Is(err, fs.ErrNotExist) {
		return bench.Generic(), bench.GenericText(), nil
	}
	if err != nil {
		return nil, "", fmt.Errorf("cannot read the library of pumps: %w", err)
	}
	lib, err := bench.ParseLibrary(libraryFile, data)
	return lib, string(data), err
}

// SetLibrary puts a library in use; one with a mistake is refused.
func (b *Bench) SetLibrary(text string) error {
	lib, err := bench.ParseLibrary(libraryFile, []byte(text))
	if err != nil {
		return err
	}
	if len(lib.Pumps) == 0 {
		return errors.New("the library holds no pump: write one, beginning with [[pump]]")
	}
	if err := wholefile.Write(filepath.Join(b.opt.folder, libraryFile), []byte(text)); err != nil {
		return fmt.Errorf("cannot keep the library of pumps: %w", err)
	}
	return nil
}

// ConfigFile is the config that may take a baseline; empty for none.
func (b *Bench) ConfigFile() string { return b.opt.configFile }

// WriteBaseline puts a test's points into the config as the machine's baseline.
// The config as it was is kept beside it. It is in force from the program's
// next start.
func (b *Bench) WriteBaseline(id string) error {
	if b.opt.configFile == "" {
		return errors.New("this program was started without a config file: copy the lines by hand")
	}
	r, err := b.store.Load(id)
	if err != nil {
		return err
	}
	old, err := os.ReadFile(b.opt.configFile)
	if err != nil {
		return fmt.Errorf("cannot read the config: %w", err)
	}
	text, err := r.WriteBaseline(string(old))
	if err != nil {
		return err
	}
	if _, problems := config.Parse(b.opt.configFile, []byte(text)); len(config.Mistakes(problems)) > 0 {
		return fmt.Errorf("the config with the baseline would not be valid: %v", config.Mistakes(problems)[0])
	}
	if err := wholefile.Write(b.opt.configFile+".before-baseline", old); err != nil {
		return fmt.Errorf("cannot keep the config as it was, so nothing is changed: %w", err)
	}
	if err := wholefile.Write(b.opt.configFile, []byte(text)); err != nil {
		return fmt.Errorf("cannot write the config: %w", err)
	}
	return nil
}
