package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

	"headroom/daemon/record"
	"headroom/daemon/store/codec"
	"headroom/daemon/store/tail"
	"headroom/rules/engine"
)

// Store is an open record. Append, Sync and Close are for the one goroutine
// behind a record.Queue; all other methods are safe for use by many.
type Store struct {
	opts Options
	dir  string
	view

	// notedMu guards the totals that were noted last, so that noting waits for
	// no disk.
	notedMu  sync.Mutex
	noted    engine.Totals
	hasNoted bool

	// mu guards all that follows: what is written and how.
	mu     sync.Mutex
	w      *sql.DB
	file   os.FileInfo // of the database, as it was opened
	ring   *tail.Ring
	enc    codec.Encoder
	seal   sealer
	fresh  fresh
	runs   tracker
	totals engine.Totals
	acts   int
	// verdicts makes digests over what is not sealed yet; digestAt is when one
	// went to the tail last.
	verdicts summer
	digestAt time.Duration

	last       time.Duration
	started    bool
	offset     int64 // of the wall from the monotonic time; valid if hasOffset
	hasOffset  bool
	stateAt    time.Duration
	stateDue   bool
	sealDue    bool
	sealFailed time.Time
	closed     bool
}

var _ record.Log = (*Store)(nil)

// Open begins a new boot in the record in dir, which is made when it isn't
// there. What a power cut left in the tail is taken over first. A damaged
// database is put aside, and all that is good in it taken over: Health says
// so. An error means that nothing can be recorded now; trying again later is
// safe.
func Open(dir string, opts Options) (*Store, error) {
	opts.setDefaults()
	opts.Info.Source = Source{Readings: opts.Info.Source.Readings}
	ctx := context.Background()
	if err := makeFolder(dir); err != nil {
		return nil, err
	}
	db, problems, err := openChecked(ctx, dir, &opts)
	if err != nil {
		return nil, err
	}
	s := &Store{opts: opts, dir: dir, w: db}
	s.seal.opts = &s.opts
	for _, p := range problems {
		s.problem(p)
	}
	if err := s.begin(ctx); err != nil {
		if s.ring != nil {
			err = errors.Join(err, s.ring.Close())
		}
		return nil, fmt.Errorf("cannot begin the record: %w", errors.Join(err, db.Close()))
	}
	path := filepath.Join(dir, databaseName)
	if s.db, err = openDatabase(path, true); err == nil {
		s.file, err = os.Stat(path)
	}
	if err != nil {
		return nil, errors.Join(err, s.ring.Close(), db.Close())
	}
	return s, nil
}

func makeFolder(dir string) error {
	if err := os.MkdirAll(dir, folderPerm); err != nil {
		return fmt.Errorf("cannot make the folder of the record: %w", err)
	}
	return nil
}

// begin takes the tail over and gives the boot its number.
func (s *Store) begin(ctx context.Context) error {
	var sealed, lastBoot int64
	const ask = "SELECT sealed_seq, (SELECT coalesce(max(boot), 0) FROM boot) FROM state"
	if err := s.w.QueryRowContext(ctx, ask).Scan(&sealed, &lastBoot); err != nil {
		return fmt.Errorf("cannot read the state of the record: %w", err)
	}
	ring, left, err := tail.Open(s.opts.openTail, filepath.Join(s.dir, tailName), s.opts.TailBytes, uint64(sealed))
	if err != nil {
		return err
	}
	s.ring = ring
	s.setSealed(uint64(sealed))
	for i := range left {
		lastBoot = max(lastBoot, int64(left[i].Boot))
	}
	if err := s.merge(ctx, left); err != nil {
		return err
	}
	s.opts.Info.Boot = uint64(lastBoot) + 1
	s.boot = s.opts.Info.Boot
	s.runs.holdOff = s.opts.HoldOff
	s.note(func(h *Health) { h.Boot, h.Torn = s.boot, ring.Torn })
	return s.writeBoot(ctx)
}

func (s *Store) writeBoot(ctx context.Context) error {
	return inTx(ctx, s.w, func(tx *sql.Tx) error { return putBoot(ctx, tx, &s.opts.Info) })
}

// putBoot writes the row of a new boot, and its config if that is new.
func putBoot(ctx context.Context, tx *sql.Tx, i *Info) error {
	l, err := newLinker(ctx, tx)
	if err != nil {
		return err
	}
	var wall, kept any
	if w := plainWall(i.StartWall); !w.IsZero() {
		wall = w.UnixNano()
	}
	if len(i.Kept) > 0 {
		kept = i.Kept
	}
	source, err := i.Source.text()
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO boot (boot, software, config, machine, wall, kept, source, link) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
		int64(i.Boot), i.Software, i.ConfigHash, i.Machine, wall, kept, source, l.next())
	if err == nil {
		err = l.end(ctx, LinkBoot, i.Boot)
	}
	if err != nil {
		return fmt.Errorf("cannot begin boot %d of the record: %w", i.Boot, err)
	}
	if i.ConfigHash == "" || len(i.ConfigText) == 0 {
		return nil
	}
	_, err = tx.ExecContext(ctx, "INSERT OR IGNORE INTO config (hash, text, boot, link) VALUES (?, ?, ?, ?)", i.ConfigHash, i.ConfigText, int64(i.Boot), l.next())
	if err == nil {
		err = l.end(ctx, LinkConfig, i.Boot)
	}
	if err != nil {
		return fmt.Errorf("cannot keep the config with the record: %w", err)
	}
	return nil
}

// Boot returns the number of this boot.
func (s *Store) Boot() uint64 { return s.boot }

// Close implements record.Log: it syncs, seals and ends the open run.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil
	}
	s.closed = true
	s.takeTotals()
	s.runs.end(endClosed, s.runs.row.T1, &s.totals)
	s.stateDue = s.started
	err := s.syncLocked()
	if e := s.sealLocked(true); e != nil {
		err = errors.Join(err, e)
	} else if err == nil {
		_, err = s.w.Exec("UPDATE state SET clean = 1")
	}
	return errors.Join(err, s.ring.Close(), s.db.Close(), s.w.Close())
}
