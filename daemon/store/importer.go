package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"time"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// Importer gathers a boot that was recorded elsewhere and puts it into a record
// in one step: all of it or nothing. The boot gets the next number, its runs
// are cut and its alarms kept as if it had been recorded here, and it counts
// for no machine's life. Another program may be recording meanwhile. It is for
// one goroutine.
type Importer struct {
	s *Store
	b batch
	// acts are numbered as they come.
	acts int
}

// importPiece is how many frames are packed at a time.
const importPiece = 3000

// NewImporter begins a boot. Info.Source must say where it comes from.
func NewImporter(o Options) (*Importer, error) {
	if !o.Info.Source.Imported() {
		return nil, errors.New("cannot import what comes from nowhere: its source must be named")
	}
	o.setDefaults()
	m := &Importer{s: &Store{opts: o}}
	m.s.runs.holdOff = o.HoldOff
	return m, nil
}

// Append takes a frame with its verdicts, and the engine's totals after it.
func (m *Importer) Append(t time.Duration, wall time.Time, raw *frame.Frame, v *engine.Verdicts, totals *engine.Totals) error {
	m.s.NoteTotals(totals)
	if err := m.s.Append(t, wall, raw, v); err != nil {
		return err
	}
	if m.s.fresh.frames.Len() >= importPiece {
		return m.pack(false)
	}
	return nil
}

// Act takes what was done, after the frame before it.
func (m *Importer) Act(a Act) {
	m.acts++
	a.N, a.Wall = m.acts, plainWall(a.Wall)
	m.s.fresh.acts = append(m.s.fresh.acts, a)
}

// pack moves what is fresh into the batch.
func (m *Importer) pack(last bool) error {
	s := m.s
	if n := s.verdicts.now.Frames; n > 0 && (last || n >= digestFrames) {
		d := s.verdicts.take()
		s.fresh.digest = &d
		s.verdicts.restart()
	}
	payload, err := s.fresh.pack(&s.enc)
	if err == nil {
		err = m.b.add(payload)
	}
	s.fresh.reset()
	return err
}

// Commit puts the boot into the record in dir, which is made when it isn't
// there, and returns its number.
func (m *Importer) Commit(ctx context.Context, dir string) (boot uint64, err error) {
	if err := m.end(); err != nil {
		return 0, err
	}
	if len(m.b.blocks) == 0 {
		return 0, errors.New("cannot import a recording without frames")
	}
	db, err := openForImport(ctx, dir, &m.s.opts)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	err = inTx(ctx, db, func(tx *sql.Tx) error {
		var last int64
		if err := tx.QueryRowContext(ctx, "SELECT coalesce(max(boot), 0) FROM boot").Scan(&last); err != nil {
			return err
		}
		boot = uint64(last) + 1
		return m.put(ctx, tx, boot)
	})
	if err != nil {
		return 0, fmt.Errorf("cannot import into the record in %s: %w", dir, err)
	}
	return boot, nil
}

// end ends the open run.
func (m *Importer) end() error {
	s := m.s
	s.takeTotals()
	s.runs.end(endClosed, s.runs.row.T1, &s.totals)
	var none engine.Totals
	s.fresh.state = &state{T: s.last, Runs: s.runs.rows(&s.totals), Sums: sumsBetween(&s.totals, &none)}
	return m.pack(true)
}

func (m *Importer) put(ctx context.Context, tx *sql.Tx, boot uint64) error {
	m.b.boot, m.s.opts.Info.Boot = boot, boot
	for i := range m.b.events {
		m.b.events[i].Boot = boot
	}
	for i := range m.b.acts {
		m.b.acts[i].Boot = boot
	}
	if err := putBoot(ctx, tx, &m.s.opts.Info); err != nil {
		return err
	}
	l, err := newLinker(ctx, tx)
	if err != nil {
		return err
	}
	seal := sealer{opts: &m.s.opts, link: l}
	if err := seal.one(ctx, tx, &m.b); err != nil {
		return err
	}
	if len(seal.problems) > 0 {
		return errors.New(seal.problems[0])
	}
	return nil
}

// openForImport opens a record beside the program that may be writing it, and
// so puts nothing aside.
func openForImport(ctx context.Context, dir string, o *Options) (*sql.DB, error) {
	if err := makeFolder(dir); err != nil {
		return nil, err
	}
	o.CheckBytes = math.MaxInt64 // an import takes its time
	db, err := openWhole(ctx, filepath.Join(dir, databaseName), o)
	if err != nil {
		return nil, fmt.Errorf("cannot open the record in %s: %w", dir, err)
	}
	return db, nil
}
