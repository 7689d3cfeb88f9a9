package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"

	"headroom/daemon/medium"
	"headroom/daemon/record"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
	"headroom/rules/frame"
)

// queuePlaces is half a minute of ticks: what a slow card may hang before
// frames are lost.
const queuePlaces = 300

// keeper owns the record's writing: a queue of frames and the one goroutine
// behind it, and the acts that go beside.
type keeper struct {
	queue  *record.Queue
	scribe *scribe
	store  atomic.Pointer[store.Store]
	stop   context.CancelFunc
	done   chan struct{}
	err    error
	once   sync.Once
	// wrap stands between the queue and the record, for faults in tests.
	wrap func(record.Log) record.Log
}

// openRecord begins the record. A folder that can't be written doesn't keep
// the program from watching: the queue says so and tries again.
func (a *App) openRecord() {
	info := store.Info{
		Software: a.opt.Version, Machine: a.opt.Config.Name, StartWall: a.wall(),
		ConfigHash: a.configHash(), ConfigText: a.opt.ConfigText, Kept: a.restored,
		Source: store.Source{Readings: a.opt.Readings},
	}
	ctx, stop := context.WithCancel(context.Background())
	k := &keeper{queue: record.NewQueue(queuePlaces), scribe: newScribe(a), stop: stop, done: make(chan struct{})}
	go func() {
		defer close(k.done)
		k.err = k.queue.Run(ctx, func() (record.Log, error) { return a.openLog(info) })
	}()
	a.keeper = k
	a.noteCalibrations()
}

// configHash names the config in force: the hash of its text, so that the text
// kept under it is the right one whatever made it.
func (a *App) configHash() string {
	hash := a.opt.Config.Hash
	if len(a.opt.ConfigText) > 0 {
		hash = sha256.Sum256(a.opt.ConfigText)
	}
	return hex.EncodeToString(hash[:])
}

// openLog opens the record, in the goroutine behind the queue.
func (a *App) openLog(info store.Info) (record.Log, error) {
	c := &a.opt.Config.Record
	s, err := store.Open(a.opt.Folder, store.Options{
		Info: info, MaxBytes: a.mostBytes(), HoldOff: c.HoldOff, IncidentBefore: c.IncidentBefore, IncidentAfter: c.IncidentAfter,
	})
	if err != nil {
		return nil, err
	}
	a.keeper.store.Store(s)
	a.keeper.scribe.opened(s)
	a.log.Info("recording", "folder", a.opt.Folder, "boot", s.Boot())
	d := record.Log(&diary{s, a.keeper.scribe})
	if a.keeper.wrap != nil {
		d = a.keeper.wrap(d)
	}
	return d, nil
}

// Record is the record that is being written, for those who read it: nil while
// it can't be opened, or where none is kept. It is never closed before Run
// ends; from then on its readers get errors.
func (a *App) Record() *store.Store {
	if a.keeper == nil {
		return nil
	}
	return a.keeper.store.Load()
}

// diary is a store behind the queue.
type diary struct {
	*store.Store
	scribe *scribe
}

// NoteLoss writes down which frames found no place in the queue.
func (d *diary) NoteLoss(l record.Loss) {
	d.scribe.add(store.Act{
		T: l.To, Wall: d.scribe.app.wall(), Who: program, What: "frames_lost",
		Text: lossText(l),
	}, nil)
}

// lossText says what was lost. An alarm that came or went in it stands nowhere
// else, so whoever reads the record later must know that there was one.
func lossText(l record.Loss) string {
	alarms := "no alarm changed in them"
	switch {
	case l.Changes == 1:
		alarms = "with them the coming or going of an alarm"
	case l.Changes > 1:
		alarms = fmt.Sprintf("with them the coming or going of alarms, %d times", l.Changes)
	}
	return fmt.Sprintf("%d frames from %v to %v could not be recorded: the medium was too slow; %s", l.Frames, l.From, l.To, alarms)
}

// Close writes the acts that are left, and ends the record.
func (d *diary) Close() error {
	err := d.scribe.end()
	return errors.Join(err, d.Store.Close())
}

// roomShare is how much of what is free, and of the record itself, a record may
// take: the rest is for the system's own logs, settings and updates.
const roomShare = 0.75

// mostBytes is how large the record may get: as the config says, but never
// more than its medium has room for.
func (a *App) mostBytes() int64 {
	keep := a.opt.Config.Record.KeepBytes
	m, err := medium.Look(a.opt.Folder)
	if err != nil {
		return keep
	}
	room := int64(float64(m.FreeBytes+ownBytes(a.opt.Folder)) * roomShare)
	if room >= keep {
		return keep
	}
	a.log.Warn("the record is kept smaller than record.keep says: its medium has no more room", "keep", keep, "now", room)
	return room
}

// ownBytes is what the record takes now.
func ownBytes(folder string) (n int64) {
	names, _ := filepath.Glob(filepath.Join(folder, "record.db*"))
	for _, name := range append(names, filepath.Join(folder, "tail")) {
		if info, err := os.Stat(name); err == nil {
			n += info.Size()
		}
	}
	return n
}

// tellOld says once that recordings of an earlier version lie in the folder.
// They are left as they are.
func (a *App) tellOld() {
	old, _ := filepath.Glob(filepath.Join(a.opt.Folder, "boot-*", "frames-*.csv"))
	if len(old) == 0 {
		return
	}
	a.log.Info("recordings of an earlier version stay where they are, and are not counted in record.keep",
		"files", len(old), "read_with", "headroom replay "+old[len(old)-1],
		"configs", filepath.Join(a.opt.Folder, "configs"), "acts", filepath.Join(a.opt.Folder, "journal.jsonl"))
}

func (a *App) recordFrame(s *snapshot.Snapshot, raw *frame.Frame) {
	if a.keeper != nil {
		a.keeper.queue.NoteTotals(&s.Totals)
		a.keeper.queue.Put(s.Mono, s.Wall, raw, &s.Verdicts)
	}
}

func (a *App) closeRecord() error {
	k := a.keeper
	if k == nil {
		return nil
	}
	k.once.Do(func() {
		k.stop()
		<-k.done
	})
	if k.err != nil {
		return fmt.Errorf("the end of the record could not be written: %w", k.err)
	}
	return nil
}
