// Package rerun runs what the record holds through the engine once more: the
// frames of a boot, beginning with the alarms that stood then, with what people
// did at its very place, under the config in force. The same program gives the
// same verdicts to the last bit; with another config or another version, what
// differs is the answer to "what if". It owns the way from the record to a
// replay and refuses to guess: where the record lacks the config, or frames,
// it says so. It writes nothing.
package rerun

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"strings"
	"time"

	"headroom/daemon/config"
	"headroom/daemon/replay"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// Record is what a rerun reads; *store.Store and *store.Reader are the ones
// there are.
type Record interface {
	Boots(ctx context.Context) ([]store.Info, error)
	Run(ctx context.Context, id store.RunID) (store.Run, error)
	Frames(ctx context.Context, id store.RunID, from, to time.Duration) iter.Seq2[store.Tick, error]
	Acts(ctx context.Context, id store.RunID) ([]store.Act, error)
	Config(ctx context.Context, hash string) (text []byte, ok bool, err error)
}

// dater is a record that knows better by now what the time was; without it the
// clock of then is taken.
type dater interface {
	WallAt(ctx context.Context, boot uint64, t time.Duration) (wall time.Time, ok bool, err error)
}

var (
	_ Record = (*store.Store)(nil)
	_ Record = (*store.Reader)(nil)
)

// ErrNoConfig means that the record doesn't hold the config in force.
var ErrNoConfig = errors.New("the record does not hold the config that was in force")

// Options of a rerun.
type Options struct {
	// Config to judge by instead of the one in force; nil for that one.
	Config *config.Config
	// Replay says what to tell. From, Kept and Acts are set here.
	Replay replay.Options
	// NoActs leaves out what people did.
	NoActs bool
}

// Result is what a rerun came to.
type Result struct {
	replay.Result
	// Info of the boot, and the config that was judged by.
	Info   store.Info
	Config *config.Config
	// Lost are the spans whose frames the record can't give. From the first of
	// them on, verdicts may differ from those of then.
	Lost []store.LostError
}

// Run runs a run, or with number 0 a whole boot, once more. What came before
// the run in its boot goes through the engine too, or it would not be in the
// state of then; only the run is told of. The error says what could not be
// read; the result up to there stands beside it.
func Run(ctx context.Context, r Record, id store.RunID, opt Options) (res Result, err error) {
	if res.Info, err = store.BootInfo(ctx, r, id.Boot); err != nil {
		return res, err
	}
	if res.Config = opt.Config; res.Config == nil {
		if res.Config, err = inForce(ctx, r, &res.Info); err != nil {
			return res, err
		}
	}
	to := time.Duration(0)
	if id.N > 0 {
		run, err := r.Run(ctx, id)
		if err != nil {
			return res, err
		}
		opt.Replay.From, to = run.Start, run.End
	}
	if err := prepare(ctx, r, &res.Info, &opt); err != nil {
		return res, err
	}
	src := newSource(r.Frames(ctx, store.RunID{Boot: id.Boot}, 0, to))
	defer src.stop()
	channels, err := src.fitted()
	if err != nil {
		return res, fmt.Errorf("cannot run %v again: %w", id, err)
	}
	e, err := engine.New(replay.FitTo(res.Config.Engine, channels))
	if err != nil {
		return res, fmt.Errorf("cannot use the config: %w", err)
	}
	res.Result, err = replay.Run(ctx, e, src, dated(ctx, r, id.Boot, opt.Replay))
	res.Lost = src.lost
	return res, err
}

// prepare sets how the boot began and what was done in it.
func prepare(ctx context.Context, r Record, i *store.Info, opt *Options) error {
	if len(i.Kept) > 0 {
		k, err := snapshot.DecodeKept(i.Kept)
		if err != nil {
			return fmt.Errorf("cannot begin boot %d as it began: %w", i.Boot, err)
		}
		opt.Replay.Kept = &k
	}
	if opt.NoActs {
		return nil
	}
	acts, err := Acts(ctx, r, i.Boot)
	opt.Replay.Acts = acts
	return err
}

// dated has alarms and acts told with the best that is known of the wall time
// now, which may be better than what the clock said then.
func dated(ctx context.Context, r Record, boot uint64, opt replay.Options) replay.Options {
	d, ok := r.(dater)
	if !ok {
		return opt
	}
	better := func(t time.Duration, said time.Time) time.Time {
		if wall, ok, err := d.WallAt(ctx, boot, t); err == nil && ok {
			return wall
		}
		return said
	}
	if tell := opt.OnTransition; tell != nil {
		opt.OnTransition = func(tr engine.Transition, wall time.Time) { tell(tr, better(tr.T, wall)) }
	}
	if tell := opt.OnAct; tell != nil {
		opt.OnAct = func(a replay.Act, ok bool, wall time.Time) { tell(a, ok, better(a.T, wall)) }
	}
	return opt
}

// InForce is the config that a boot was judged by. The error wraps ErrNoConfig
// where the record doesn't hold it.
func InForce(ctx context.Context, r Record, boot uint64) (*config.Config, error) {
	i, err := store.BootInfo(ctx, r, boot)
	if err != nil {
		return nil, err
	}
	return inForce(ctx, r, &i)
}

func inForce(ctx context.Context, r Record, i *store.Info) (*config.Config, error) {
	text, ok, err := r.Config(ctx, i.ConfigHash)
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, fmt.Errorf("boot %d: %w", i.Boot, ErrNoConfig)
	}
	cfg, problems := config.Parse("the config of boot "+fmt.Sprint(i.Boot), text)
	if bad := config.Mistakes(problems); len(bad) > 0 {
		return nil, fmt.Errorf("this version can't read the config of boot %d: %v", i.Boot, bad[0])
	}
	return cfg, nil
}

// Acts are what people did to alarms in a boot, in the order in which they did
// it. Other acts of the record, as notes and what outputs did, change nothing
// in the engine and are left out, as is what this version doesn't know.
func Acts(ctx context.Context, r Record, boot uint64) (out []replay.Act, err error) {
	acts, err := r.Acts(ctx, store.RunID{Boot: boot})
	if err != nil {
		return nil, err
	}
	for i := range acts {
		a := &acts[i]
		id, ok := engine.AlarmByName(a.Alarm)
		act, known := alarm.ActByName(a.What)
		if ok && known {
			out = append(out, replay.Act{T: a.T, Alarm: id, Act: act, Shelf: a.For, Who: a.Who})
		}
	}
	return out, nil
}

// source gives a replay the frames of the record.
type source struct {
	next func() (store.Tick, error, bool)
	stop func()
	// first is a frame that was looked at ahead.
	first   store.Tick
	isFirst bool
	lost    []store.LostError
}

func newSource(frames iter.Seq2[store.Tick, error]) *source {
	s := &source{}
	s.next, s.stop = iter.Pull2(frames)
	return s
}

// fitted are the channels of the first frame; they never change in a boot.
func (s *source) fitted() ([]frame.Channel, error) {
	tick, err := s.pull()
	if errors.Is(err, io.EOF) {
		return nil, errors.New("the record has no frames of it" + s.why())
	}
	if err != nil {
		return nil, err
	}
	s.first, s.isFirst = tick, true
	return replay.Fitted(&tick.Frame), nil
}

func (s *source) why() string {
	var all []string
	for i := range s.lost {
		all = append(all, s.lost[i].Error())
	}
	if len(all) == 0 {
		return ""
	}
	return ": " + strings.Join(all, "; ")
}

// pull gives the next frame that there is.
func (s *source) pull() (store.Tick, error) {
	for {
		tick, err, ok := s.next()
		if !ok {
			return tick, io.EOF
		}
		var lost *store.LostError
		if errors.As(err, &lost) {
			s.lost = append(s.lost, *lost)
			continue
		}
		return tick, err
	}
}

// Next implements replay.Source.
func (s *source) Next(f *frame.Frame) (time.Duration, time.Time, error) {
	tick, err := s.first, error(nil)
	if !s.isFirst {
		tick, err = s.pull()
	}
	s.isFirst = false
	if err != nil {
		return 0, time.Time{}, err
	}
	*f = tick.Frame
	return tick.T, tick.Wall, nil
}
