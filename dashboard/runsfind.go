package dashboard

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"headroom/daemon/store"
)

// findWithin bounds one search: it holds a turn at the record, and the board is
// slow. What was found up to then is shown.
const findWithin = lookWithin

// errLongSearch is why a list may lack something.
var errLongSearch = errors.New("the search was broken off after " + lasting(findWithin.Seconds()) +
	": older runs were not looked through; give the days to look in")

// finder looks for a text in what the record says of runs. Acts are read once,
// and events once for each boot.
type finder struct {
	rec  Recorded
	text string
	// all are the entries of the record, by their boots.
	all map[uint64][]store.Run
	// acts are what people did and wrote that has the text; read tells that they
	// are known. oldest is the first boot that is looked at.
	acts   []store.Act
	read   bool
	oldest uint64
	// events are those of boot, valid when has.
	events []store.Event
	boot   uint64
	has    bool
}

// choose returns the runs that the filter lets through, newest first.
func (f *runsFilter) choose(ctx context.Context, rec Recorded, runs []store.Run) (out []store.Run, err error) {
	of, err := f.ofTheDays(runs)
	if err != nil {
		return runs, err
	}
	if f.Text == "" || len(of) == 0 {
		return of, nil
	}
	ctx, cancel := context.WithTimeoutCause(ctx, findWithin, errLongSearch)
	defer cancel()
	x := &finder{rec: rec, text: strings.ToLower(f.Text), all: map[uint64][]store.Run{}, oldest: of[len(of)-1].ID.Boot}
	for i := range runs {
		x.all[runs[i].ID.Boot] = append(x.all[runs[i].ID.Boot], runs[i])
	}
	for i := range of {
		ok, err := x.holds(ctx, &of[i])
		if errors.Is(context.Cause(ctx), errLongSearch) {
			return out, errLongSearch
		}
		if err != nil {
			return out, err
		}
		if ok {
			out = append(out, of[i])
		}
	}
	return out, nil
}

// ofTheDays leaves the runs of the days and of the weight that are asked for.
func (f *runsFilter) ofTheDays(runs []store.Run) (out []store.Run, err error) {
	from, err1 := dayStart(f.From)
	to, err2 := dayStart(f.To)
	if err := errors.Join(err1, err2); err != nil {
		return nil, err
	}
	if !to.IsZero() {
		to = to.AddDate(0, 0, 1)
	}
	for i := range runs {
		at := runs[i].StartWall
		if (from.IsZero() || !at.Before(from)) && (to.IsZero() || at.Before(to)) && (!f.Incidents || runs[i].Incidents > 0) {
			out = append(out, runs[i])
		}
	}
	return out, nil
}

// holds looks for the text in what a run says of itself, in its alarms and in
// what people did and wrote.
func (x *finder) holds(ctx context.Context, run *store.Run) (bool, error) {
	if x.finds(run.ID.String(), run.Machine, alarmTitle(run.FirstOut), run.FirstOut, run.Source.Name, run.Source.Short()) {
		return true, nil
	}
	if found, err := x.inAlarms(ctx, run); found || err != nil {
		return found, err
	}
	if !x.read {
		acts, err := x.rec.ActsSince(ctx, x.oldest)
		if err != nil {
			return false, err
		}
		x.read = true
		x.acts = slices.DeleteFunc(acts, func(a store.Act) bool { return !x.inAct(&a) })
	}
	// A note names its run itself; that name is no part of what was written.
	return slices.ContainsFunc(notesAbout(x.acts, run.ID), func(a store.Act) bool { return x.finds(a.Text, a.Who) }) ||
		slices.ContainsFunc(x.acts, func(a store.Act) bool { return a.What != noteAbout && a.Boot == run.ID.Boot && x.wasFor(run, a.T) }), nil
}

// inAct reports whether an act has the text: who, what, to which alarm, or the
// words.
func (x *finder) inAct(a *store.Act) bool {
	if a.What == noteAbout {
		return x.finds(a.Text, a.Who)
	}
	return x.finds(a.Text, a.Who, a.What) || a.Alarm != "" && x.finds(a.Alarm, alarmTitle(a.Alarm))
}

// beforeStart is how long before a run what people did may be meant for it: the
// round of the checklist comes before the pump turns (common practice, no
// source for how long).
const beforeStart = time.Hour

// wasFor reports whether what was done at a moment of its boot was done in a
// run, or before it and after the one before.
func (x *finder) wasFor(run *store.Run, t time.Duration) bool {
	if x.belongs(run, t) || run.ID.N == 0 {
		return x.belongs(run, t)
	}
	return t < run.From && t >= run.From-beforeStart &&
		!slices.ContainsFunc(x.all[run.ID.Boot], func(r store.Run) bool { return r.ID.N > 0 && r.From < run.From && r.To >= t })
}

// finds reports whether one of the texts holds what is looked for.
func (x *finder) finds(texts ...string) bool {
	return slices.ContainsFunc(texts, func(s string) bool { return strings.Contains(strings.ToLower(s), x.text) })
}

func (x *finder) inAlarms(ctx context.Context, run *store.Run) (bool, error) {
	if run.Raised == 0 {
		return false, nil
	}
	if !x.has || x.boot != run.ID.Boot {
		var err error
		if x.events, err = x.rec.Events(ctx, store.RunID{Boot: run.ID.Boot}); err != nil {
			return false, err
		}
		x.boot, x.has = run.ID.Boot, true
	}
	return slices.ContainsFunc(x.events, func(e store.Event) bool {
		return x.belongs(run, e.T) && x.finds(e.Alarm, alarmTitle(e.Alarm))
	}), nil
}

// belongs reports whether a moment of its boot belongs to a run, or to none
// where it is the boot that is looked at.
func (x *finder) belongs(run *store.Run, t time.Duration) bool {
	within := func(r store.Run) bool { return r.ID.N > 0 && t >= r.From && t <= r.To }
	if run.ID.N > 0 {
		return within(*run)
	}
	return !slices.ContainsFunc(x.all[run.ID.Boot], within)
}
