package app_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/app"
	"headroom/daemon/record"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
	"headroom/deploy/testneed"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors"
)

var hotAlarm = engine.ActAlarm(engine.WaterHot)

// running starts the program over a folder and returns how to end it.
func running(t *testing.T, opt app.Options, before func(a *app.App)) (a *app.App, end func()) {
	a, err := app.New(opt)
	require.NoError(t, err)
	if before != nil {
		before(a)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- a.Run(ctx) }()
	return a, func() {
		cancel()
		require.NoError(t, <-done)
		require.NoError(t, a.Close())
	}
}

// stands returns the system alarms that stand, by name.
func stands(a *app.App) map[string]snapshot.SystemAlarm {
	out := map[string]snapshot.SystemAlarm{}
	if s := a.Store().Latest(); s != nil {
		for _, al := range s.Health.System {
			out[al.ID.String()] = al
		}
	}
	return out
}

// Nothing that a form can send makes a line of its own in the record, or one
// that is too long for it.
func TestANoteIsOneLineOfWhatCanBeSeen(t *testing.T) {
	folder := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		opt := options(t, hot{300})
		opt.Folder = folder
		a, end := running(t, opt, nil)
		defer end()
		time.Sleep(time.Second)
		require.NoError(t, a.Note(t.Context(), "bench_test", "leaks\n\x1b[31mat the\u202e seal "+strings.Repeat("ü", 60_000), "B\x07en\xff"))
	})
	acts := actsOf(t, folder, 1)
	require.Len(t, acts, 1)
	require.Regexp(t, `^leaks \[31mat the seal ü+$`, acts[0].Text)
	require.Len(t, []rune(acts[0].Text), 8000)
	require.Equal(t, "Ben", acts[0].Who)
}

// What is confirmed is on the disk: a copy of the folder, as after a power cut
// at that very moment, holds the act and begins with the alarm as it then was.
func TestAnActIsSafeWhenItIsConfirmed(t *testing.T) {
	folder, copied := t.TempDir(), t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		opt := options(t, hot{340})
		opt.Folder = folder
		a, end := running(t, opt, nil)
		defer end()
		time.Sleep(20 * time.Second)
		_, err := a.Do(t.Context(), hotAlarm, alarm.Acknowledge, 0, "Ada")
		require.NoError(t, err)
		require.NoError(t, a.Note(t.Context(), "checklist", "oil: well", "Ben"))
		require.NoError(t, os.CopyFS(copied, os.DirFS(folder)))
	})
	acts := actsOf(t, copied, 1)
	require.Len(t, acts, 2)
	require.Equal(t, "acknowledge", acts[0].What)
	require.Equal(t, store.Act{Boot: 1, N: 2, T: acts[1].T, Wall: acts[1].Wall, Who: "Ben", What: "checklist", Text: "oil: well"}, acts[1])
	frames := 0
	for _, err := range reader(t, copied).Frames(t.Context(), store.RunID{Boot: 1}, 0, 0) {
		require.NoError(t, err)
		frames++
	}
	require.InDelta(t, 200, frames, 10, "and all frames but the last second's")
	synctest.Test(t, func(t *testing.T) {
		a := runFor(t, copied, 340, time.Second, nil)
		require.Equal(t, alarm.Acknowledged, a.Store().Latest().Verdicts.Alarms[hotAlarm].Phase)
	})
}

// whole is all that the record's log is.
type whole interface {
	record.Log
	NoteTotals(t *engine.Totals)
	NoteLoss(l record.Loss)
}

// faulty is a log whose Sync does as told.
type faulty struct {
	whole
	mu   sync.Mutex
	sync func() error
}

func (f *faulty) set(do func() error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.sync = do
}

func (f *faulty) Sync() error {
	f.mu.Lock()
	do := f.sync
	f.mu.Unlock()
	if do != nil {
		if err := do(); err != nil {
			return err
		}
	}
	return f.whole.Sync()
}

// A medium that fails, and one that hangs, raise their alarms and are gone
// again with it; the watching never waits.
func TestFailingAndHangingMediaAreAlarms(t *testing.T) {
	for _, c := range []struct {
		name, want, status string
		lost               bool
	}{
		{"fails", "record.failing", "the medium fails: ", false},
		{"hangs", "record.losing", "the medium has not answered for", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			folder := t.TempDir()
			synctest.Test(t, func(t *testing.T) {
				opt := options(t, hot{290})
				opt.Folder = folder
				var log faulty
				a, end := running(t, opt, func(a *app.App) {
					a.WrapLog(func(l record.Log) record.Log { log.whole = l.(whole); return &log })
				})
				time.Sleep(10 * time.Second)
				require.NotContains(t, stands(a), c.want)
				release := make(chan struct{})
				log.set(func() error {
					if c.lost {
						<-release
						return nil
					}
					return fmt.Errorf("cannot write: %w", syscall.EIO)
				})
				before := a.Store().Latest().Seq
				time.Sleep(time.Minute)
				require.Contains(t, stands(a), c.want)
				require.Contains(t, stands(a)[c.want].Status, c.status)
				require.InDelta(t, before+600, a.Store().Latest().Seq, 2, "ten ticks a second")
				require.Zero(t, a.Store().Latest().Health.LateTicks)
				require.Equal(t, c.lost, a.Store().Latest().Health.RecordDropped > 0)
				log.set(nil)
				close(release)
				time.Sleep(15 * time.Minute)
				require.NotContains(t, stands(a), c.want)
				require.Empty(t, a.Store().Latest().Health.RecordError)
				end()
			})
			acts := actsOf(t, folder, 1)
			if c.lost {
				require.Len(t, acts, 1, "what was lost stands in the record with its interval")
				require.Equal(t, "frames_lost", acts[0].What)
				require.Contains(t, acts[0].Text, "could not be recorded")
				require.Regexp(t, "alarm", acts[0].Text, "whether an alarm changed in them")
			} else {
				require.Empty(t, acts, "nothing was lost")
			}
		})
	}
}

// smallDisk is a file system of a few megabytes.
func smallDisk(t *testing.T, bytes int) string {
	dir := t.TempDir()
	if os.Geteuid() != 0 {
		testneed.Missing(t, "needs root, to mount a small file system")
	}
	if err := syscall.Mount("none", dir, "tmpfs", 0, fmt.Sprintf("size=%d", bytes)); err != nil {
		testneed.Missing(t, "cannot mount a small file system: "+err.Error())
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) })
	return dir
}

// A disk that is full from the start, and one that turns read-only, stop
// nothing. What people did meanwhile is told to them as not recorded, and is in
// the record once there is room.
func TestFullAndReadOnlyDisksAreAlarms(t *testing.T) {
	for _, c := range []struct {
		name, status  string
		spoil, mend   func(t *testing.T, dir string)
		volatileStays bool
	}{
		{name: "full", status: "disk full", spoil: func(t *testing.T, dir string) {
			err := os.WriteFile(filepath.Join(dir, "junk"), make([]byte, 32<<20), 0o644)
			require.ErrorIs(t, err, syscall.ENOSPC)
		}, mend: func(t *testing.T, dir string) { require.NoError(t, os.Remove(filepath.Join(dir, "junk"))) }},
		{name: "read-only", status: "read-only", spoil: func(t *testing.T, dir string) {
			require.NoError(t, syscall.Mount("none", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
		}, mend: func(t *testing.T, dir string) {
			require.NoError(t, syscall.Mount("none", dir, "tmpfs", syscall.MS_REMOUNT, ""))
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := smallDisk(t, 24<<20)
			c.spoil(t, dir)
			synctest.Test(t, func(t *testing.T) {
				opt := options(t, hot{340})
				opt.Folder = dir
				a, end := running(t, opt, nil)
				time.Sleep(30 * time.Second)
				require.Contains(t, stands(a), "record.failing")
				require.Contains(t, stands(a)["record.failing"].Status, c.status)
				require.Contains(t, stands(a), "record.volatile", "it is memory")
				require.Contains(t, a.Store().Latest().Health.RecordError, c.status)
				require.Nil(t, a.Record())
				did, err := a.Do(t.Context(), hotAlarm, alarm.Acknowledge, 0, "Ada")
				require.ErrorIs(t, err, app.ErrNotRecorded)
				require.Equal(t, alarm.Acknowledged, did.Phase, "it is done all the same")
				require.GreaterOrEqual(t, a.Store().Latest().Seq, uint64(298))
				c.mend(t, dir)
				time.Sleep(2 * time.Minute)
				require.NotContains(t, stands(a), "record.failing")
				require.Empty(t, a.Store().Latest().Health.RecordError)
				require.NotNil(t, a.Record())
				end()
			})
			acts := actsOf(t, dir, 1)
			require.NotEmpty(t, acts)
			require.Equal(t, "acknowledge", acts[0].What)
		})
	}
}

// stopping is a pump that turns for twenty seconds.
type stopping struct{ hot }

func (s stopping) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	return s.hot.Run(ctx, clock, func(r sensors.Reading) {
		if r.Channel == frame.ShaftSpeed && clock() > 20*time.Second {
			r.Sample.Value = 0
		}
		post(r)
	})
}

// A disk that fills up in mid-run is told before anything is lost: the last
// minutes have their room already, and what can't be moved on waits there.
func TestDiskThatFillsUpIsToldBeforeAnythingIsLost(t *testing.T) {
	dir := smallDisk(t, 24<<20)
	var ticks uint64
	synctest.Test(t, func(t *testing.T) {
		opt := options(t, stopping{hot{290}})
		opt.Folder = dir
		opt.Config.Record.HoldOff = 5 * time.Second
		a, end := running(t, opt, nil)
		time.Sleep(10 * time.Second)
		require.NotContains(t, stands(a), "record.space")
		junk := filepath.Join(dir, "junk")
		require.ErrorIs(t, os.WriteFile(junk, make([]byte, 32<<20), 0o644), syscall.ENOSPC)
		time.Sleep(time.Minute) // the run ends, and can't be moved to the database
		require.Contains(t, stands(a), "record.space")
		require.Contains(t, stands(a), "record.half")
		require.Contains(t, stands(a)["record.half"].Status, "full")
		require.NotContains(t, stands(a), "record.failing", "nothing is lost yet")
		require.NoError(t, a.Note(t.Context(), "checklist", "oil: well", "Ada"), "and acts are safe")
		require.NoError(t, os.Remove(junk))
		time.Sleep(3 * time.Minute)
		require.NotContains(t, stands(a), "record.space")
		require.NotContains(t, stands(a), "record.half")
		end()
		ticks = a.Store().Latest().Seq
	})
	n := uint64(0)
	for _, err := range reader(t, dir).Frames(t.Context(), store.RunID{Boot: 1}, 0, 0) {
		require.NoError(t, err)
		n++
	}
	require.Equal(t, ticks, n)
	require.Len(t, actsOf(t, dir, 1), 1)
}

// What the record adds up over two boots is what the engine counted in both,
// and a reading program counts nothing twice.
func TestNothingIsCountedTwiceOverARestart(t *testing.T) {
	folder := t.TempDir()
	var frames, starts uint64
	var water float64
	for range 2 {
		synctest.Test(t, func(t *testing.T) {
			a := runFor(t, folder, 290, time.Minute, nil)
			totals := a.Store().Latest().Totals
			frames += totals.Frames
			starts += totals.Starts
			water += totals.WaterM3
		})
	}
	require.NotZero(t, water)
	for range 2 {
		life, err := reader(t, folder).Life(t.Context())
		require.NoError(t, err)
		require.Equal(t, frames, life.Frames)
		require.Equal(t, starts, life.Starts)
		require.InDelta(t, water, life.WaterM3, 1e-9)
	}
}

// Recordings of an earlier version are neither touched nor in the way.
func TestOldRecordingsStay(t *testing.T) {
	folder := t.TempDir()
	old := filepath.Join(folder, "boot-000001", "frames-0001.csv")
	require.NoError(t, os.MkdirAll(filepath.Dir(old), 0o755))
	require.NoError(t, os.WriteFile(old, []byte("# kept\n"), 0o644))
	synctest.Test(t, func(t *testing.T) { runFor(t, folder, 290, 5*time.Second, nil) })
	text, err := os.ReadFile(old)
	require.NoError(t, err)
	require.Equal(t, "# kept\n", string(text))
	boots, err := reader(t, folder).Boots(t.Context())
	require.NoError(t, err)
	require.Len(t, boots, 1)
	require.Equal(t, "test", boots[0].Software)
}
