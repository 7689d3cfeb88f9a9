package whatif

import (
	"bytes"
	"context"
	"fmt"
	"time"

	"headroom/daemon/config"
	"headroom/daemon/rerun"
	"headroom/daemon/store"
	"headroom/rules/engine"
)

// Question is what shall be different.
type Question struct {
	// Config to judge by, complete; nil for the one in force then, changed by
	// Settings.
	Config   *config.Config
	Settings []Setting
	// Acts repeats under the other configuration what people did to alarms.
	// Without it neither side has them, so that only the configuration differs.
	Acts bool
}

// Answer is both alarm lists side by side.
type Answer struct {
	ID store.RunID
	// Start and End of what was compared, in monotonic time of the boot.
	Start, End time.Duration
	// StartWall is the best known time of Start; zero where nothing is known.
	StartWall time.Time
	// Then is the configuration in force, Other the one that is tried.
	Then, Other *config.Config
	// Changed are the settings that were changed; empty for a whole file.
	Changed []Setting
	// Source says what gave the readings.
	Source store.Source
	// Software is the version that recorded.
	Software string
	Rows     []Row
	// Identical tells that every verdict of every frame is the same, to the last
	// bit.
	Identical bool
	// DigestThen and DigestOther are over those verdicts.
	DigestThen, DigestOther []byte
	// Asis are the alarms that were recorded but do not come under the very same
	// configuration now, or the other way round: the program has changed since,
	// or frames were lost.
	Asis []Row
	// Lost are spans whose frames the record can't give.
	Lost []store.LostError
}

// Record is what is needed of a record.
type Record interface {
	rerun.Record
	Events(ctx context.Context, id store.RunID) ([]store.Event, error)
}

// Ask runs a run (or with number 0 a boot) under both configurations. The error
// says what is missing or which setting is wrong.
func Ask(ctx context.Context, r Record, id store.RunID, q Question) (*Answer, error) {
	a := &Answer{ID: id, Changed: q.Settings, Other: q.Config}
	if err := a.configs(ctx, r, &q); err != nil {
		return nil, err
	}
	then, err := side(ctx, r, id, a.Then, q.Acts)
	if err != nil {
		return nil, err
	}
	other, err := side(ctx, r, id, a.Other, q.Acts)
	if err != nil {
		return nil, err
	}
	a.Start, a.End, a.Lost, a.Software = then.res.First, then.res.Last, then.res.Lost, then.res.Info.Software
	a.StartWall, a.Source = then.res.FirstWall, then.res.Info.Source
	a.DigestThen, a.DigestOther = then.res.Digest, other.res.Digest
	a.Identical = bytes.Equal(a.DigestThen, a.DigestOther)
	a.Rows = pair(then.alarms, other.alarms, a.End)
	return a, a.compareRecorded(ctx, r, then.alarms)
}

// configs reads the configuration in force and makes the other one.
func (a *Answer) configs(ctx context.Context, r Record, q *Question) (err error) {
	if a.Then, err = rerun.InForce(ctx, r, a.ID.Boot); err != nil {
		return err
	}
	if q.Config != nil {
		return nil
	}
	if len(q.Settings) == 0 {
		a.Other = a.Then
		return nil
	}
	text, err := textInForce(ctx, r, a.ID.Boot)
	if err != nil {
		return err
	}
	a.Other, err = changed(a.Then, text, q.Settings)
	return err
}

func textInForce(ctx context.Context, r Record, boot uint64) ([]byte, error) {
	info, err := store.BootInfo(ctx, r, boot)
	if err != nil {
		return nil, err
	}
	text, ok, err := r.Config(ctx, info.ConfigHash)
	if err == nil && !ok {
		err = fmt.Errorf("boot %d: %w", boot, rerun.ErrNoConfig)
	}
	return text, err
}

// half is one side of the answer.
type half struct {
	res    rerun.Result
	alarms []Alarm
}

func side(ctx context.Context, r Record, id store.RunID, cfg *config.Config, acts bool) (h half, err error) {
	open := map[engine.AlarmID]int{}
	opt := rerun.Options{Config: cfg, NoActs: !acts}
	opt.Replay.Digest = true
	opt.Replay.OnTransition = func(tr engine.Transition, _ time.Time) {
		if tr.Raised {
			open[tr.Alarm] = len(h.alarms)
			h.alarms = append(h.alarms, Alarm{
				ID: tr.Alarm, Level: tr.Level, Raised: tr.T, First: tr.First, Under: tr.Under, HasCause: tr.HasCause, Value: tr.Value, Limit: tr.Limit,
			})
		} else if i, ok := open[tr.Alarm]; ok {
			h.alarms[i].Gone, h.alarms[i].HasGone = tr.T, true
			delete(open, tr.Alarm)
		}
	}
	h.res, err = rerun.Run(ctx, r, id, opt)
	return h, err
}

// compareRecorded holds the side of then against the alarms that were recorded.
func (a *Answer) compareRecorded(ctx context.Context, r Record, then []Alarm) error {
	events, err := r.Events(ctx, a.ID)
	if err != nil {
		return err
	}
	var was []Alarm
	open := map[engine.AlarmID]int{}
	for i := range events {
		e := &events[i]
		id, known := engine.AlarmByName(e.Alarm)
		if !known {
			continue
		}
		if k, ok := open[id]; ok && !e.Raised {
			was[k].Gone, was[k].HasGone = e.T, true
			delete(open, id)
		} else if e.Raised {
			open[id] = len(was)
			was = append(was, Alarm{ID: id, Level: engine.Level(e.LevelN), Raised: e.T, First: e.First})
		}
	}
	for _, row := range pair(was, then, a.End) {
		if row.Kind != Same {
			a.Asis = append(a.Asis, row)
		}
	}
	return nil
}
