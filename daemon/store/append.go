package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"headroom/daemon/record"
	"headroom/daemon/store/codec"
	"headroom/daemon/store/tail"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

const (
	// maxHeld bounds what is kept in memory while the disk fails: ten minutes
	// of ten frames a second.
	maxHeld = 6000
	// stateEvery is how often runs and sums go to the tail.
	stateEvery = 30 * time.Second
	// clockJump is from when on a change of the wall against the monotonic
	// time is an observation of its own.
	clockJump = time.Second
	// sealPause is how long the database is left alone after an error, as long
	// as the tail has room.
	sealPause = time.Minute
	// directFrames is from when on frames go straight to the database while
	// the tail fails: ten seconds of them.
	directFrames = 100
	// digestFrames is after how many the next digest begins: five minutes of
	// ten frames a second, so that a difference is found to that.
	digestFrames = 3000
	// digestEvery is how often the digest as far as it has come goes to the
	// tail: what comes later is covered by none after a power cut.
	digestEvery = 10 * time.Second
)

var errClosed = errors.New("the record is closed")

// Append implements record.Log. It touches no disk.
func (s *Store) Append(t time.Duration, wall time.Time, raw *frame.Frame, v *engine.Verdicts) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return errClosed
	}
	if s.started && t <= s.last {
		return nil
	}
	if s.fresh.frames.Len() >= maxHeld {
		return record.ErrFull
	}
	s.takeTotals()
	s.fresh.frames.Append(int64(t), s.wallOffset(t, wall), raw)
	if s.runs.step(t, v, &s.totals) {
		s.stateDue = true
		s.sealDue = s.sealDue || len(s.runs.ended) > 0
		s.noteRun()
	}
	s.started, s.last = true, t
	s.verdicts.add(t, v)
	for _, tr := range v.Transitions() {
		s.fresh.events = append(s.fresh.events, newEvent(s.boot, wall, &tr))
	}
	return nil
}

// wallOffset is the wall less the monotonic time, kept as it was while it
// differs by no more than the step. A jump is an observation.
func (s *Store) wallOffset(t time.Duration, wall time.Time) int64 {
	wall = plainWall(wall)
	if wall.IsZero() {
		return codec.NoWall
	}
	offset := wall.UnixNano() - int64(t)
	by := time.Duration(offset - s.offset)
	first := !s.hasOffset
	if !first && by.Abs() <= s.opts.WallStep {
		return s.offset
	}
	if first || by.Abs() >= clockJump {
		s.fresh.clock = append(s.fresh.clock, Observation{Boot: s.boot, T: t, Wall: wall})
	}
	s.offset, s.hasOffset = offset, true
	return offset
}

// NoteTotals takes the engine's totals as they stand; summaries of runs and the
// life's counters are made of them. It is a copy that waits for no disk, and is
// best called before each Append, with the totals after that frame's step.
func (s *Store) NoteTotals(t *engine.Totals) {
	s.notedMu.Lock()
	defer s.notedMu.Unlock()
	s.noted, s.hasNoted = *t, true
}

// takeTotals takes what was noted since the last frame.
func (s *Store) takeTotals() {
	s.notedMu.Lock()
	defer s.notedMu.Unlock()
	if s.hasNoted {
		s.totals, s.hasNoted = s.noted, false
	}
}

// Act records what somebody did, with its Boot and N set, and returns when it
// is safe on disk: only then may it be confirmed. After an error it is kept
// and written with the next Sync.
func (s *Store) Act(a Act) (Act, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return a, errClosed
	}
	if len(s.fresh.acts) >= maxHeld {
		return a, record.ErrFull
	}
	s.acts++
	a.Boot, a.N, a.Wall = s.boot, s.acts, plainWall(a.Wall)
	s.fresh.acts = append(s.fresh.acts, a)
	return a, s.syncLocked()
}

// NoteClock records what is known of the wall time at a monotonic time, for
// this boot or, with Boot set, for an earlier one.
func (s *Store) NoteClock(o Observation) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return errClosed
	}
	if o.Wall = plainWall(o.Wall); o.Wall.IsZero() {
		return errors.New("cannot note the time: its year must lie between 1825 and 2115")
	}
	if o.Boot != 0 && o.Boot != s.boot {
		return s.noteOldClock(&o)
	}
	o.Boot = s.boot
	s.fresh.clock = append(s.fresh.clock, o)
	return s.syncLocked()
}

// noteOldClock writes an observation of the clock of an earlier boot; one that
// is not there is passed over.
func (s *Store) noteOldClock(o *Observation) error {
	ctx := context.Background()
	err := inTx(ctx, s.w, func(tx *sql.Tx) error {
		l, err := newLinker(ctx, tx)
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, "INSERT INTO clock (boot, t, trust, wall, link) SELECT boot, ?, ?, ?, ? FROM boot WHERE boot = ?",
			int64(o.T), uint8(o.Trust), o.Wall.UnixNano(), l.next(), int64(o.Boot))
		if err != nil {
			return err
		}
		return l.end(ctx, LinkClock, o.Boot)
	})
	if err != nil {
		return fmt.Errorf("cannot note the time of boot %d: %w", o.Boot, err)
	}
	return nil
}

// Sync implements record.Log: what was appended goes to the tail, and now and
// then on to the database. While the tail fails, the database is the other
// means; while the database fails, the tail holds out for as long as it has
// room, and Health says so.
func (s *Store) Sync() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return errClosed
	}
	if err := s.syncLocked(); err != nil {
		return err
	}
	if s.sealIsDue() {
		if err := s.sealLocked(false); err != nil && s.ring.Share() > 0.75 {
			return err
		}
	}
	return nil
}

func (s *Store) syncLocked() error {
	if err := s.flushLocked(); err != nil {
		return err
	}
	return s.inPlace()
}

// inPlace reports whether the database is still where it was opened. The system
// lets an open file be written for ever, removed or not.
func (s *Store) inPlace() error {
	path := filepath.Join(s.dir, databaseName)
	now, err := os.Stat(path)
	if err == nil && !os.SameFile(s.file, now) {
		err = errors.New("another file is in its place")
	}
	if err != nil {
		return fmt.Errorf("the record %s was moved or removed while it is being written (%w): put it back, or start the program anew", path, err)
	}
	return nil
}

// flushLocked makes safe what was appended.
func (s *Store) flushLocked() error {
	s.addState()
	if s.fresh.empty() {
		return nil
	}
	if s.verdicts.now.Frames > 0 && s.last-s.digestAt >= digestEvery {
		d := s.verdicts.take()
		s.fresh.digest = &d
	}
	payload, err := s.fresh.pack(&s.enc)
	if err != nil {
		return err
	}
	seq, err := s.toTail(payload)
	if err != nil {
		s.noteTail(err)
		if s.fresh.frames.Len() < directFrames && !s.fresh.urgent() && !s.closed {
			return err
		}
		return s.sealDirect(payload, err)
	}
	s.noteTail(nil)
	s.took(pending{seq: seq, payload: payload, frames: s.fresh.frames.Len()})
	return nil
}

// took moves what was fresh to what is safe.
func (s *Store) took(p pending) {
	s.addPending(p, s.last)
	if st := s.fresh.state; st != nil {
		s.stateAt, s.stateDue = st.T, false
		s.runs.ended = s.runs.ended[:0]
	}
	if s.fresh.digest != nil {
		s.digestAt = s.last
		if s.verdicts.now.Frames >= digestFrames {
			s.verdicts.restart()
		}
	}
	s.fresh.reset()
}

// addState adds runs and sums when they are due.
func (s *Store) addState() {
	if !s.started || !s.stateDue && (s.fresh.frames.Len() == 0 || s.last-s.stateAt < stateEvery) {
		return
	}
	var none engine.Totals
	s.fresh.state = &state{T: s.last, Runs: s.runs.rows(&s.totals), Sums: sumsBetween(&s.totals, &none)}
}

// toTail writes a record. A full tail is emptied into the database, a broken
// one opened anew, and then it is tried once more.
func (s *Store) toTail(payload []byte) (seq uint64, err error) {
	if seq, err = s.ring.Append(s.boot, payload); err == nil {
		return seq, nil
	}
	if errors.Is(err, tail.ErrFull) {
		if e := s.sealLocked(true); e != nil {
			return 0, fmt.Errorf("%w: %w", err, e)
		}
	} else if e := s.reopenTail(); e != nil {
		return 0, errors.Join(err, e)
	}
	return s.ring.Append(s.boot, payload)
}

// reopenTail opens the file anew, as after its card was put back. What is
// pending and not in it, as when it had to be made anew, is written again.
func (s *Store) reopenTail() error {
	s.note(func(h *Health) { h.TailReopened++ })
	ring, found, err := tail.Open(s.opts.openTail, filepath.Join(s.dir, tailName), s.opts.TailBytes, s.sealed())
	if err != nil {
		return err
	}
	ring.Skip(s.ring.Seq())
	there := make(map[uint64]bool, len(found))
	for i := range found {
		there[found[i].Seq] = true
	}
	list := s.pendingList()
	for i := range list {
		if p := &list[i]; !there[p.seq] {
			if p.seq, err = ring.Append(s.boot, p.payload); err != nil {
				return errors.Join(err, ring.Close())
			}
		}
	}
	s.setPending(list)
	_ = s.ring.Close() // it was failing
	s.ring = ring
	return nil
}

func (s *Store) sealIsDue() bool {
	frames, since := s.pendingSince()
	if frames == 0 && !s.sealDue {
		return false
	}
	due := s.sealDue || frames >= s.opts.SealFrames || s.last-since >= s.opts.SealEvery
	return due && (s.sealFailed.IsZero() || time.Since(s.sealFailed) >= sealPause)
}

// sealLocked moves what is pending to the database.
func (s *Store) sealLocked(now bool) error {
	list := s.pendingList()
	if len(list) == 0 {
		s.sealDue = false
		return nil
	}
	if err := s.sealList(list, newest(list), s.fresh.frames.Len() == 0); err != nil {
		return err
	}
	if now {
		return nil
	}
	return s.prune(context.Background())
}

// sealDirect writes what is pending and the payload to the database, as the
// tail failed with an error.
func (s *Store) sealDirect(payload []byte, cause error) error {
	list := append(s.pendingList(), pending{seq: s.ring.Seq(), payload: payload})
	if err := s.sealList(list, s.ring.Seq(), true); err != nil {
		return errors.Join(cause, err)
	}
	s.note(func(h *Health) { h.Direct++ })
	s.took(pending{})
	return nil
}

// sealList writes a list. whole tells that all frames that were appended are in
// it, so that the digest over them goes with them.
func (s *Store) sealList(list []pending, seq uint64, whole bool) error {
	b := &batch{boot: s.boot}
	for i := range list {
		if err := b.add(list[i].payload); err != nil {
			s.problem(err.Error())
		}
	}
	if whole && s.verdicts.now.Frames > 0 {
		b.digests = addDigest(b.digests, s.verdicts.take())
	}
	err := s.seal.write(context.Background(), s.w, []*batch{b}, seq)
	s.noteSeal(err)
	if err != nil {
		s.sealFailed = time.Now()
		return fmt.Errorf("cannot move the last minutes into the record: %w; free space or check the card", err)
	}
	s.sealFailed, s.sealDue = time.Time{}, false
	for _, p := range s.seal.problems {
		s.problem(p)
	}
	s.verdicts.restart()
	s.ring.Release(seq)
	s.dropPending(seq)
	return nil
}

// noteRun tells which run goes on.
func (s *Store) noteRun() {
	s.note(func(h *Health) {
		h.Run, h.RunBegan = 0, 0
		if s.runs.open {
			h.Run, h.RunBegan = s.runs.row.N, s.runs.row.T0
		}
	})
}
