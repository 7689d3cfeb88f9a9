package app

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

	"headroom/daemon/record"
	"headroom/daemon/snapshot"
	"headroom/daemon/wholefile"
	"headroom/rules/frame"
)

// queuePlaces is half a minute of ticks: what a slow card may hang before
// frames are lost.
const queuePlaces = 300

// keeper owns the record's writing: a queue and the one goroutine behind it.
type keeper struct {
	queue *record.Queue
	stop  context.CancelFunc
	done  chan struct{}
	err   error
	once  sync.Once
}

// openRecord begins the record. A folder that can't be written doesn't keep
// the program from watching: the queue says so and tries again.
func (a *App) openRecord() {
	cfg := a.opt.Config
	opts := record.Options{
		MaxBytes: cfg.Record.KeepBytes,
		Info: record.Info{
			Software: a.opt.Version, Config: hex.EncodeToString(cfg.Hash[:]), Machine: cfg.Name, StartWall: time.Now(),
		},
	}
	ctx, stop := context.WithCancel(context.Background())
	k := &keeper{queue: record.NewQueue(queuePlaces), stop: stop, done: make(chan struct{})}
	go func() {
		defer close(k.done)
		k.err = k.queue.Run(ctx, func() (record.Log, error) { return a.openLog(opts) })
	}()
	a.keeper = k
}

// openLog opens the record and puts the config beside it, so that a recording
// can be replayed under the limits that were in force.
func (a *App) openLog(opts record.Options) (record.Log, error) {
	r, err := record.Open(a.opt.Folder, opts)
	if err != nil {
		return nil, err
	}
	if len(a.opt.ConfigText) > 0 {
		if err := keepConfig(a.opt.Folder, opts.Info.Config, a.opt.ConfigText); err != nil {
			return nil, errors.Join(err, r.Close())
		}
	}
	return r, nil
}

// ConfigFile is where the config with that hash is kept in the record.
func ConfigFile(folder, hash string) string {
	return filepath.Join(folder, "configs", hash+".toml")
}

// keepConfig writes a config once; its name is its content's hash.
func keepConfig(folder, hash string, text []byte) error {
	path := ConfigFile(folder, hash)
	if _, err := os.Stat(path); err == nil {
		return nil
	}
	if err := wholefile.Write(path, text); err != nil {
		return fmt.Errorf("cannot keep the config with the record: %w", err)
	}
	return nil
}

func (a *App) recordFrame(s *snapshot.Snapshot, raw *frame.Frame) {
	if a.keeper != nil {
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
