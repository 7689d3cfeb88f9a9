// Package imported takes a recording that was made elsewhere into the record: a
// log of somebody else's instrument through a map of its columns, or an export
// of this program. The recording becomes a boot of its own, judged by a config
// that is kept with it, with runs, alarms and summaries like any other; it is
// marked with the name and the hash of the file it came from, and counts for
// no machine's life. The package reads files and writes through package store;
// it judges nothing itself, and takes a file as a whole or not at all.
package imported

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"headroom/daemon/config"
	"headroom/daemon/exported"
	"headroom/daemon/replay"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

// Options of an import.
type Options struct {
	// Config to judge by, and its text, which is kept with the boot. An export
	// of this program brings its own where Config is nil.
	Config     *config.Config
	ConfigText []byte
	// Map of the columns; zero for recordings of this program.
	Map csvfile.Map
	// Software is this program's version.
	Software string
	// Machine is what the machine is called; empty for the config's name.
	Machine string
	// Strict refuses a file with a row that can't be used.
	Strict bool
	// OnProblem is told of every row that can't be used.
	OnProblem func(csvfile.RowError)
}

// Result is what an import came to.
type Result struct {
	Boot   uint64
	Source store.Source
	// Frames taken, rows left out, and alarms raised.
	Frames, Skipped, Raised uint64
	Runs                    []store.RunID
	// From and To are the ends in monotonic time.
	From, To time.Duration
}

// rows is a recording that is being read.
type rows struct {
	next     func(*frame.Frame) (time.Duration, time.Time, error)
	channels []frame.Channel
	skipped  func() uint64
	// kept and acts of an export.
	kept  []byte
	acts  []store.Act
	close func() error
	// readings is what an export says of them.
	readings store.Readings
}

// File imports a file into the record in dir.
func File(ctx context.Context, dir, path string, o Options) (res Result, err error) {
	if res.Source, err = sourceOf(path); err != nil {
		return res, err
	}
	in, err := open(ctx, path, &o)
	if err != nil {
		return res, err
	}
	defer func() { err = errors.Join(err, in.close()) }()
	res.Source.Readings = in.readings
	hash := sha256.Sum256(o.ConfigText)
	if o.Machine == "" {
		o.Machine = o.Config.Name
	}
	o.Machine, res.Source.Name = store.Plain(o.Machine), store.Plain(res.Source.Name)
	to, err := store.NewImporter(store.Options{
		HoldOff: o.Config.Record.HoldOff, IncidentBefore: o.Config.Record.IncidentBefore, IncidentAfter: o.Config.Record.IncidentAfter,
		Info: store.Info{
			Software: o.Software, Machine: o.Machine, ConfigHash: hex.EncodeToString(hash[:]), ConfigText: o.ConfigText,
			Kept: in.kept, Source: res.Source,
		},
	})
	if err != nil {
		return res, err
	}
	if err := judge(ctx, in, o.Config, to, &res); err != nil {
		return res, fmt.Errorf("cannot import %s: %w", path, err)
	}
	if res.Skipped = in.skipped(); res.Frames == 0 {
		return res, fmt.Errorf("cannot import %s: no row of it could be used; does the map of its columns fit?", path)
	}
	res.Boot, err = to.Commit(ctx, dir)
	return res, err
}

// sourceOf names a file by its last name and the hash of its bytes.
func sourceOf(path string) (s store.Source, err error) {
	f, err := os.Open(path)
	if err != nil {
		return s, fmt.Errorf("cannot open the recording: %w", err)
	}
	defer f.Close() // only read from
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return s, fmt.Errorf("cannot read %s: %w", path, err)
	}
	return store.Source{Name: filepath.Base(path), SHA256: hex.EncodeToString(h.Sum(nil))}, nil
}

// open opens a recording: an export of this program is known by itself.
func open(ctx context.Context, path string, o *Options) (*rows, error) {
	own, err := exported.Open(path)
	if err == nil {
		return ownRows(ctx, own, o)
	}
	if !errors.Is(err, exported.ErrNotOwn) {
		return nil, err
	}
	if o.Config == nil {
		return nil, fmt.Errorf("cannot import %s: there is no config to judge it by", path)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("cannot open the recording: %w", err)
	}
	r, err := csvfile.NewReader(bufio.NewReader(f), path, o.Map, csvfile.Options{Strict: o.Strict, OnProblem: o.OnProblem})
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return &rows{
		next: r.Next, channels: r.Channels(), close: f.Close,
		skipped: func() uint64 { return r.Stats().Skipped },
	}, nil
}

// ownRows reads an export, with what people did and how the alarms stood.
func ownRows(ctx context.Context, f *exported.File, o *Options) (*rows, error) {
	if o.Config == nil {
		if len(f.Info.ConfigText) == 0 {
			return nil, fmt.Errorf("cannot import %s: it doesn't hold the config that was in force; name one with -config", f.Name)
		}
		cfg, problems := config.Parse("the config in "+f.Name, f.Info.ConfigText)
		if bad := config.Mistakes(problems); len(bad) > 0 {
			return nil, fmt.Errorf("cannot import %s: this version can't read its config: %v", f.Name, bad[0])
		}
		o.Config, o.ConfigText = cfg, f.Info.ConfigText
	}
	if o.Machine == "" {
		o.Machine = f.Info.Machine
	}
	infos, err := f.Boots(ctx)
	if err != nil {
		return nil, err
	}
	p := newPuller(f.Frames(ctx, f.Head.Run, 0, 0))
	return &rows{
		next: p.next, channels: f.Channels, kept: infos[0].Kept, acts: f.Head.Acts,
		skipped: func() uint64 { return 0 },
		close:   func() error { p.stop(); return nil }, readings: infos[0].Source.Readings,
	}, nil
}

// judge steps the engine through the rows.
func judge(ctx context.Context, in *rows, cfg *config.Config, to *store.Importer, res *Result) error {
	e, err := engine.New(replay.FitTo(cfg.Engine, in.channels))
	if err != nil {
		return fmt.Errorf("cannot use the config: %w", err)
	}
	var state engine.State
	if len(in.kept) > 0 {
		k, err := snapshot.DecodeKept(in.kept)
		if err != nil {
			return err
		}
		state.Restore(&k)
	}
	var f frame.Frame
	for {
		t, wall, err := in.next(&f)
		if errors.Is(err, io.EOF) {
			in.act(e, &state, to, 1<<63-1)
			return nil
		}
		if err == nil && res.Frames%4096 == 0 {
			err = ctx.Err()
		}
		if err == nil && t < 0 {
			err = fmt.Errorf("a row's time is %v, before the start of the program that recorded: shift all times, so that none is below 0", t)
		}
		if err != nil {
			return err
		}
		in.act(e, &state, to, t)
		v := e.Step(&state, &f, t)
		totals := state.Totals()
		if err := to.Append(t, wall, &f, v, &totals); err != nil {
			return err
		}
		res.note(t, v)
	}
}

func (r *Result) note(t time.Duration, v *engine.Verdicts) {
	if r.Frames == 0 {
		r.From = t
	}
	r.To = t
	r.Frames++
	for _, tr := range v.Transitions() {
		if tr.Raised {
			r.Raised++
		}
	}
}

// act repeats what was done before a frame.
func (in *rows) act(e *engine.Engine, s *engine.State, to *store.Importer, before time.Duration) {
	for len(in.acts) > 0 && in.acts[0].T < before {
		a := in.acts[0]
		in.acts = in.acts[1:]
		to.Act(a.Plain())
		id, ok := engine.AlarmByName(a.Alarm)
		act, known := alarm.ActByName(a.What)
		if ok && known { // notes and the like change nothing in the engine
			e.Do(s, id, act, a.T, a.For)
		}
	}
}
