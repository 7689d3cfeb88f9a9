package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/store/tail"
)

// faulty wraps real tails and fails as told.
type faulty struct {
	mu   sync.Mutex
	fail func(op string) error
}

func (f *faulty) set(fail func(op string) error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.fail = fail
}

func (f *faulty) failing(op string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.fail == nil {
		return nil
	}
	return f.fail(op)
}

func (f *faulty) open(path string, bytes int64) (tail.File, error) {
	if err := f.failing("open"); err != nil {
		return nil, err
	}
	file, err := tail.OpenFile(path, bytes)
	if err != nil {
		return nil, err
	}
	return &faultyFile{file, f}, nil
}

type faultyFile struct {
	tail.File
	f *faulty
}

func (f *faultyFile) WriteAt(b []byte, at int64) (int, error) {
	if err := f.f.failing("write"); err != nil {
		n, _ := f.File.WriteAt(b[:len(b)/1024*512], at) // a part gets through
		return n, err
	}
	return f.File.WriteAt(b, at)
}

func (f *faultyFile) Sync() error {
	if err := f.f.failing("sync"); err != nil {
		return err
	}
	return f.File.Sync()
}

// only fails one kind of operation.
func only(op string, err error) func(string) error {
	return func(o string) error {
		if o == op {
			return err
		}
		return nil
	}
}

// TestTheDatabaseStandsInForTheTail: with the tail failing, frames are held
// and go to the database directly after ten seconds, alarms at once; when the
// tail works again it is used again. Nothing is lost, nothing twice.
func TestTheDatabaseStandsInForTheTail(t *testing.T) {
	for _, op := range []string{"write", "sync"} {
		for _, why := range []error{syscall.ENOSPC, syscall.EIO, syscall.EROFS} {
			dir := t.TempDir()
			var f faulty
			s := open(t, dir, Options{openTail: f.open})
			r := newRig(t)
			ticks := r.take(600)
			feed(t, s, r, ticks[:100])
			f.set(only(op, why))
			told := false
			for i, k := range ticks[100:400] {
				put(t, s, r, k)
				if i%10 == 9 || len(k.v.Transitions()) > 0 {
					err := s.Sync()
					if err != nil {
						require.ErrorIs(t, err, why)
						require.Empty(t, k.v.Transitions(), "alarms don't wait")
					}
					told = told || err != nil
				}
			}
			require.True(t, told, "errors surface")
			require.Contains(t, s.Health().TailError, why.Error())
			require.Positive(t, s.Health().Direct)
			_, err := s.Act(Act{T: r.at, What: "note"})
			require.NoError(t, err, "acknowledged: it is in the database")
			f.set(nil)
			feed(t, s, r, ticks[400:])
			require.NoError(t, s.Sync())
			require.Empty(t, s.Health().TailError)
			requireFrames(t, &s.view, 1, ticks)
			drop(t, s)
			s = open(t, dir, Options{})
			requireFrames(t, &s.view, 1, ticks)
			acts, err := s.Acts(ctx, RunID{Boot: 1})
			require.NoError(t, err)
			require.Len(t, acts, 1)
			events, err := s.Events(ctx, RunID{Boot: 1})
			require.NoError(t, err)
			require.Len(t, events, transitions(ticks))
			require.NoError(t, s.Close())
		}
	}
}

// TestTheTailHoldsOutForTheDatabase fills the database up to a limit of pages,
// as a full disk does. Syncs go on without an error while the tail has room;
// with the disk free again all is there.
func TestTheTailHoldsOutForTheDatabase(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{SealFrames: 100})
	r := newRig(t)
	ticks := r.take(1500)
	feed(t, s, r, ticks[:300])
	var pages int
	require.NoError(t, s.w.QueryRow("PRAGMA page_count").Scan(&pages))
	_, err := s.w.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages))
	require.NoError(t, err)
	feed(t, s, r, ticks[300:900])
	h := s.Health()
	require.Contains(t, h.SealError, "full")
	require.Greater(t, h.PendingFrames, 300, "the tail holds them")
	requireFrames(t, &s.view, 1, ticks[:900])
	_, err = s.w.Exec("PRAGMA max_page_count = 1000000")
	require.NoError(t, err)
	s.mu.Lock()
	s.sealFailed = time.Time{} // the pause is over
	s.mu.Unlock()
	feed(t, s, r, ticks[900:])
	require.Empty(t, s.Health().SealError)
	requireFrames(t, &s.view, 1, ticks)
	require.NoError(t, s.Close())
	s = open(t, dir, Options{})
	requireFrames(t, &s.view, 1, ticks)
	require.NoError(t, s.Close())
}

// TestBothFull: with no room anywhere Append says so in the end, and what is
// held is written when there is room.
func TestBothFull(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{SealFrames: 100, TailBytes: 32 << 10})
	r := newRig(t)
	ticks := r.take(1500)
	_, err := s.w.Exec("PRAGMA max_page_count = 1")
	require.NoError(t, err)
	errs := 0
	for i, k := range ticks {
		put(t, s, nil, k)
		if i%10 == 9 && s.Sync() != nil {
			errs++
		}
	}
	require.Positive(t, errs)
	require.ErrorIs(t, s.Sync(), tail.ErrFull)
	_, err = s.w.Exec("PRAGMA max_page_count = 1000000")
	require.NoError(t, err)
	require.NoError(t, s.Sync())
	requireFrames(t, &s.view, 1, ticks)
	require.NoError(t, s.Close())
}

// TestFullDisk runs on a small file system in memory, which needs root.
func TestFullDisk(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=700k"); err != nil {
		t.Skipf("skipped: needs the right to mount a small file system: %v", err)
	}
	defer func() { require.NoError(t, syscall.Unmount(dir, 0)) }()
	s := open(t, dir, Options{SealFrames: 200, TailBytes: 128 << 10})
	r := newRig(t)
	ticks := r.take(2000)
	feed(t, s, r, ticks[:300])
	require.NoError(t, s.Sync())
	ballast := filepath.Join(dir, "ballast")
	f, err := os.Create(ballast)
	require.NoError(t, err)
	for err == nil {
		_, err = f.Write(make([]byte, 4096))
	}
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.NoError(t, f.Close())
	feed(t, s, r, ticks[300:900])
	require.NotEmpty(t, s.Health().SealError)
	requireFrames(t, &s.view, 1, ticks[:900])
	require.NoError(t, os.Remove(ballast))
	s.mu.Lock()
	s.sealFailed = time.Time{}
	s.mu.Unlock()
	feed(t, s, r, ticks[900:])
	require.Empty(t, s.Health().SealError)
	requireFrames(t, &s.view, 1, ticks)
	require.NoError(t, s.Close())
}

func TestOpenTellsWhatFails(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	_, err := Open(filepath.Join(file, "x"), Options{})
	require.ErrorContains(t, err, "cannot make the folder")
	var f faulty
	f.set(only("open", syscall.EIO))
	dir := t.TempDir()
	_, err = Open(dir, Options{openTail: f.open})
	require.ErrorIs(t, err, syscall.EIO)
	f.set(nil)
	s := open(t, dir, Options{openTail: f.open})
	require.EqualValues(t, 1, s.Boot(), "a failed Open takes no number")
	require.NoError(t, s.Close())
}

// TestRandomFaults lets every operation of the tail fail at random, cuts the
// power at random, and wants whatever Sync returned for.
func TestRandomFaults(t *testing.T) {
	n := 0
	base := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		n++
		dir := filepath.Join(base, fmt.Sprint(n))
		var f faulty
		s := open(t, dir, Options{openTail: f.open, SealFrames: 50, TailBytes: 16 << 10})
		r := newRig(t)
		var ticks []*tick
		safe := 0
		for range rapid.IntRange(1, 25).Draw(t, "seconds") {
			op := rapid.SampledFrom([]string{"", "", "", "write", "sync", "open"}).Draw(t, "fails")
			f.set(only(op, syscall.EIO))
			for _, k := range r.take(rapid.IntRange(1, 15).Draw(t, "frames")) {
				put(t, s, r, k)
				ticks = append(ticks, k)
			}
			if err := s.Sync(); err == nil {
				safe = len(ticks)
			} else if !errors.Is(err, tail.ErrFull) { // tries that failed take room too, until the next seal
				require.ErrorIs(t, err, syscall.EIO)
			}
		}
		f.set(nil)
		drop(t, s)
		s = open(t, dir, Options{TailBytes: 16 << 10})
		got := 0
		for k, err := range s.Frames(ctx, RunID{Boot: 1}, 0, 0) {
			require.NoError(t, err)
			requireTick(t, ticks[got], &k)
			got++
		}
		require.GreaterOrEqual(t, got, safe)
		events, err := s.Events(ctx, RunID{Boot: 1})
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(events), transitions(ticks[:safe]))
		require.LessOrEqual(t, len(events), transitions(ticks[:got]))
		require.NoError(t, errors.Join(s.Close(), os.RemoveAll(dir)))
	})
}
