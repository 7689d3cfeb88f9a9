package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"headroom/daemon/snapshot"
	"headroom/daemon/wholefile"
	"headroom/dashboard"
	"headroom/rules/alarm"
	"headroom/rules/engine"
)

// asked is a person's act on its way to the tick, the only one who may touch
// the engine's state.
type asked struct {
	alarm engine.AlarmID
	act   alarm.Act
	shelf time.Duration
	who   string
	reply chan<- answered
}

// answered is what became of an act; recorded tells when it is safe, nil where
// no record is kept.
type answered struct {
	did      engine.Did
	recorded <-chan error
	err      error
}

// ErrNotNow means that an act makes no sense for the alarm as it stands.
var ErrNotNow = errors.New("that can't be done with this alarm now")

// ErrNotRecorded means that something was done but is not safe in the record:
// after a power cut nobody would know of it. The page says so in these words.
var ErrNotRecorded = dashboard.ErrNotRecorded

// recordWithin is how long a person waits for the disk. Longer than a healthy
// one ever needs, shorter than a thumb's patience.
const recordWithin = 3 * time.Second

// Do applies a person's act to an alarm, and returns when that is safe in the
// record. ErrNotNow means that nothing was changed; ErrNotRecorded that it was
// done and could not be recorded in time, with the outcome beside it. Any other
// error, such as the end of ctx, leaves open whether it was done.
func (a *App) Do(ctx context.Context, id engine.AlarmID, act alarm.Act, shelf time.Duration, who string) (engine.Did, error) {
	reply := make(chan answered, 1)
	select {
	case a.asked <- asked{id, act, shelf, who, reply}:
	case <-ctx.Done():
		return engine.Did{}, fmt.Errorf("the act was not taken: %w", context.Cause(ctx))
	}
	select {
	case r := <-reply:
		if r.err != nil || r.recorded == nil {
			return r.did, r.err
		}
		return r.did, awaitRecorded(ctx, r.recorded)
	case <-ctx.Done():
		return engine.Did{}, fmt.Errorf("no answer to the act: %w", context.Cause(ctx))
	}
}

// awaitRecorded waits until something is safe, but not for long.
func awaitRecorded(ctx context.Context, recorded <-chan error) error {
	late := time.NewTimer(recordWithin)
	defer late.Stop()
	select {
	case err := <-recorded:
		if err != nil {
			return fmt.Errorf("%w: %w", ErrNotRecorded, err)
		}
		return nil
	case <-late.C:
		return fmt.Errorf("%w: the medium has not answered within %v", ErrNotRecorded, recordWithin)
	case <-ctx.Done():
		return fmt.Errorf("%w: %w", ErrNotRecorded, context.Cause(ctx))
	}
}

// answer applies an act between two steps. It is dated to the last step: the
// engine knows no other time, and a replay can repeat the act at its very
// place, after that frame and before the next.
func (a *App) answer(r asked) {
	did, ok := a.engine.Do(&a.state, r.alarm, r.act, a.lastTick(), r.shelf)
	if !ok {
		r.reply <- answered{err: ErrNotNow}
		return
	}
	a.store.NoteAct(snapshot.ActEvent{Wall: a.wall(), Who: r.who, Did: did})
	a.log.Info("act", "act", did.Act, "alarm", did.Alarm, "who", r.who, "phase", did.Phase)
	out := answered{did: did}
	if a.keeper != nil {
		recorded := make(chan error, 1)
		out.recorded = recorded
		a.keepAlarms()
		act := a.actNow(r.who, did.Act.String())
		act.Alarm, act.For, act.With, act.Text = did.Alarm.String(), did.Shelf, did.Names(), "now "+did.Phase.Words()
		a.keeper.scribe.add(act, recorded)
	}
	r.reply <- out
}

// keptFile holds the alarms as they stood, so that a restart loses none.
const keptFile = "alarms.json"

// keepEvery is how many ticks may pass before a shelf's remaining time is
// written again.
const keepEvery = 600

// keepAlarms hands the alarms to the goroutine that writes them; the newest
// wins, so a slow disk never delays the tick.
func (a *App) keepAlarms() {
	if a.keeper == nil {
		return
	}
	k := a.state.Keep()
	if k == a.lastKept {
		return
	}
	a.lastKept = k
	a.keeper.scribe.keep(&k)
}

// writeKept writes the alarms for a restart.
func (a *App) writeKept(k *snapshot.Kept) error {
	data, err := snapshot.EncodeKept(k)
	if err == nil {
		err = wholefile.Write(filepath.Join(a.opt.Folder, keptFile), data)
	}
	if err != nil {
		err = fmt.Errorf("the alarms could not be kept for a restart: %w", err)
	}
	a.tellOnce(&a.unkept, err, "after a restart the alarms would begin as they were", "the alarms are kept for a restart again")
	return err
}

// tellOnce logs a failure when it begins or its kind changes, and its end, but
// not each of the tries between. Two errors are of a kind where the system gives
// the same reason for both: the name of a temporary file differs each time.
func (a *App) tellOnce(was *string, err error, fails, again string) {
	now := ""
	if err != nil {
		now = err.Error()
		var no syscall.Errno
		if errors.As(err, &no) {
			now = no.Error()
		}
	}
	switch {
	case now == *was:
	case now != "":
		a.log.Warn(fails, "error", err)
	default:
		a.log.Info(again)
	}
	*was = now
}

// restoreAlarms begins with the alarms of the run before, and remembers their
// text for the record. A file that can't be read costs the alarms' history and
// nothing else, and is said.
func (a *App) restoreAlarms() {
	data, err := os.ReadFile(filepath.Join(a.opt.Folder, keptFile))
	if errors.Is(err, fs.ErrNotExist) {
		return
	}
	var k snapshot.Kept
	if err == nil {
		k, err = snapshot.DecodeKept(data)
	}
	if err != nil {
		a.log.Warn("the alarms of the run before can't be read; they begin anew", "error", err)
		return
	}
	a.state.Restore(&k)
	a.restored = data
}
