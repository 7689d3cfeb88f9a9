package record

import (
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/frame"
)

// faultFS fails operations as told, after doing part of a write.
type faultFS struct {
	osFS
	fail func(op string) error
}

func (f *faultFS) OpenFile(name string, flag int, perm fs.FileMode) (file, error) {
	if flag != os.O_RDONLY {
		if err := f.fail("open"); err != nil {
			return nil, &fs.PathError{Op: "open", Path: name, Err: err}
		}
	}
	real, err := f.osFS.OpenFile(name, flag, perm)
	if err != nil {
		return nil, err
	}
	return &faultFile{real, f}, nil
}

func (f *faultFS) Mkdir(name string, perm fs.FileMode) error {
	if err := f.fail("mkdir"); err != nil {
		return err
	}
	return f.osFS.Mkdir(name, perm)
}

func (f *faultFS) Rename(from, to string) error {
	if err := f.fail("rename"); err != nil {
		return err
	}
	return f.osFS.Rename(from, to)
}

func (f *faultFS) Remove(name string) error {
	if err := f.fail("remove"); err != nil {
		return err
	}
	return f.osFS.Remove(name)
}

func (f *faultFS) SyncDir(name string) error {
	if err := f.fail("syncdir"); err != nil {
		return err
	}
	return nil
}

type faultFile struct {
	file
	fs *faultFS
}

// Write puts half of it on disk when it fails; syscall 0 means a short write
// that claims to be fine.
func (f *faultFile) Write(p []byte) (int, error) {
	err := f.fs.fail("write")
	if err == nil {
		return f.file.Write(p)
	}
	n, _ := f.file.Write(p[:len(p)/2])
	if err == syscall.Errno(0) {
		return n, nil
	}
	return n, err
}

func (f *faultFile) Sync() error {
	if err := f.fs.fail("sync"); err != nil {
		return err
	}
	return nil // nobody cuts the power here, so the disk need not turn
}

// TestNoFaultLosesARow: whatever the disk does in between, all rows and events
// are there, each once, after the first Sync that succeeds.
func TestNoFaultLosesARow(t *testing.T) {
	faults := []error{syscall.ENOSPC, syscall.EIO, syscall.EROFS, syscall.Errno(0)}
	base := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		dir, err := os.MkdirTemp(base, "")
		require.NoError(t, err)
		defer os.RemoveAll(dir)
		rnd := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		share := rapid.SampledFrom([]float64{0.02, 0.2, 0.6}).Draw(t, "share")
		broken := false
		fsys := &faultFS{fail: func(string) error {
			if broken && rnd.Float64() < share {
				return faults[rnd.IntN(len(faults))]
			}
			return nil
		}}
		r, err := open(fsys, dir, Options{SegmentBytes: 5000})
		require.NoError(t, err)
		g := newRigT(t)
		var want []frame.Frame
		changes := 0
		broken = true
		for range rapid.IntRange(1, 150).Draw(t, "ticks") {
			k := g.next()
			require.NoError(t, r.Append(k.t, k.wall, &k.raw, k.v), "the disk is nothing to Append")
			want = append(want, k.raw)
			changes += len(k.v.Transitions())
			if rnd.IntN(3) == 0 && r.Sync() == nil {
				checkRun(t, dir, want, changes)
			}
		}
		broken = false
		require.NoError(t, r.Close())
		checkRun(t, dir, want, changes)
	})
}

func checkRun(t require.TestingT, dir string, want []frame.Frame, changes int) {
	_, frames, _ := exported(t, dir, 1)
	require.Equal(t, want, frames)
	got, _, err := Events(dir, 1)
	require.NoError(t, err)
	require.Len(t, got, changes)
}

// TestOpenSaysWhatFails: no fault while opening makes a panic or a number
// given twice.
func TestOpenSaysWhatFails(t *testing.T) {
	dir := t.TempDir()
	seen := map[uint64]bool{}
	for nth := range 20 {
		n := 0
		fsys := &faultFS{fail: func(string) error {
			if n++; n > nth {
				return syscall.EROFS
			}
			return nil
		}}
		r, err := open(fsys, dir, Options{})
		if err != nil {
			require.ErrorIs(t, err, syscall.EROFS)
			require.ErrorContains(t, err, "cannot")
			continue
		}
		require.False(t, seen[r.Boot()])
		seen[r.Boot()] = true
	}
	require.NotEmpty(t, seen, "with enough operations let through, it opens")
}

// TestMemoryIsBounded: a disk that never comes back makes Append refuse.
func TestMemoryIsBounded(t *testing.T) {
	broken := false
	fsys := &faultFS{fail: func(string) error {
		if broken {
			return syscall.ENOSPC
		}
		return nil
	}}
	dir := t.TempDir()
	r, err := open(fsys, dir, Options{})
	require.NoError(t, err)
	broken = true
	g := newRig(t)
	taken := 0
	for ; ; taken++ {
		require.Less(t, taken, maxHeld/50)
		k := g.next()
		if err := r.Append(k.t, k.wall, &k.raw, k.v); err != nil {
			require.ErrorIs(t, err, ErrFull)
			break
		}
	}
	require.ErrorIs(t, r.Sync(), syscall.ENOSPC)
	require.ErrorContains(t, r.Sync(), "free space")
	names, err := filepath.Glob(filepath.Join(bootFolder(dir, 1), "frames-*"))
	require.NoError(t, err)
	require.Empty(t, names)
	broken = false
	require.NoError(t, r.Close())
	_, frames, _ := exported(t, dir, 1)
	require.Len(t, frames, taken)
}

// TestDeletionThatCannotBeNotedIsMade: on a full disk room comes first.
func TestDeletionThatCannotBeNotedIsMade(t *testing.T) {
	dir := t.TempDir()
	fsys := &faultFS{fail: func(string) error { return nil }}
	r, err := open(fsys, dir, Options{MaxBytes: 20_000})
	require.NoError(t, err)
	g := newRig(t)
	inPrune := false
	fsys.fail = func(op string) error {
		if inPrune && op == "write" {
			return syscall.ENOSPC
		}
		return nil
	}
	for range 300 {
		k := g.next()
		require.NoError(t, k.appendTo(r))
		require.NoError(t, r.syncRows())
		require.NoError(t, r.syncEvents())
		inPrune = true
		if r.stock.total() > r.opts.MaxBytes {
			require.ErrorIs(t, r.prune(), syscall.ENOSPC)
		}
		inPrune = false
		require.LessOrEqual(t, sizeOf(t, dir), int64(20_000))
	}
	require.NoError(t, r.Close())
}
