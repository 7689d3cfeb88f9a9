package record

import (
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/frame"
)

var errPower = errors.New("the power is off")

// powerFS is a disk whose power goes after a number of operations. Of what was
// not synced, anything may be left then: less of a file, zeros in it, or no
// file; and a rename that no SyncDir has made safe may be undone.
type powerFS struct {
	osFS
	left  int
	rnd   *rand.Rand
	files map[string]*powerFile
	undo  map[string][]byte // what stood under a name before a rename; nil: nothing
}

type powerFile struct {
	file
	fs         *powerFS
	size, safe int64
	named      bool // the folder's entry is safe
}

func (p *powerFS) step() error {
	if p.left--; p.left < 0 {
		return errPower
	}
	return nil
}

func (p *powerFS) OpenFile(name string, flag int, perm fs.FileMode) (file, error) {
	if err := p.step(); err != nil {
		return nil, err
	}
	real, err := p.osFS.OpenFile(name, flag, perm)
	if err != nil || flag == os.O_RDONLY {
		return real, err
	}
	f := &powerFile{fs: p}
	if old := p.files[name]; old != nil {
		*f = *old
	} else if size, err := real.Seek(0, 2); err == nil && size > 0 {
		f.size, f.safe, f.named = size, size, true // from an earlier run
	}
	if flag&os.O_TRUNC != 0 {
		f.size, f.safe = 0, 0
	}
	f.file = real
	p.files[name] = f
	return f, nil
}

func (f *powerFile) Write(b []byte) (int, error) {
	if err := f.fs.step(); err != nil {
		n, _ := f.file.Write(b[:f.fs.rnd.IntN(len(b)+1)])
		f.size += int64(n)
		return n, err
	}
	n, err := f.file.Write(b)
	f.size += int64(n)
	return n, err
}

func (f *powerFile) Sync() error {
	if err := f.fs.step(); err != nil {
		return err
	}
	f.safe = f.size
	return nil
}

func (p *powerFS) Mkdir(name string, perm fs.FileMode) error {
	if err := p.step(); err != nil {
		return err
	}
	return p.osFS.Mkdir(name, perm)
}

func (p *powerFS) Rename(from, to string) error {
	if err := p.step(); err != nil {
		return err
	}
	old, err := os.ReadFile(to)
	if err != nil {
		old = nil
	}
	p.undo[to] = old
	p.files[to] = p.files[from]
	delete(p.files, from)
	return p.osFS.Rename(from, to)
}

func (p *powerFS) Remove(name string) error {
	if err := p.step(); err != nil {
		return err
	}
	delete(p.files, name)
	return p.osFS.Remove(name)
}

func (p *powerFS) SyncDir(name string) error {
	if err := p.step(); err != nil {
		return err
	}
	for path, f := range p.files {
		f.named = f.named || filepath.Dir(path) == name
	}
	for path := range p.undo {
		if filepath.Dir(path) == name {
			delete(p.undo, path)
		}
	}
	return nil
}

// cut makes of the files what a power cut may leave of them.
func (p *powerFS) cut(t require.TestingT) {
	for path, f := range p.files {
		if _, renamed := p.undo[path]; renamed {
			continue
		}
		if !f.named && p.rnd.IntN(2) == 0 {
			require.NoError(t, os.Remove(path))
			continue
		}
		keep := f.safe + p.rnd.Int64N(f.size-f.safe+1)
		require.NoError(t, os.Truncate(path, keep))
		if p.rnd.IntN(2) == 0 { // the length is there, the content is not
			require.NoError(t, os.Truncate(path, f.size))
		}
	}
	for path, old := range p.undo {
		switch {
		case p.rnd.IntN(2) == 0: // the rename had come through
		case old == nil:
			require.NoError(t, os.Remove(path))
		default:
			require.NoError(t, os.WriteFile(path, old, 0o644))
		}
	}
}

// TestPowerCuts cuts the power at any operation, over several runs in the same
// folder: what Sync had returned for is there, the rest is a prefix of what
// was appended, and no number of a run is given twice.
func TestPowerCuts(t *testing.T) {
	base := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		dir, err := os.MkdirTemp(base, "")
		require.NoError(t, err)
		defer os.RemoveAll(dir)
		rnd := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		last := uint64(0)
		for range rapid.IntRange(1, 3).Draw(t, "runs") {
			fsys := &powerFS{rnd: rnd, files: map[string]*powerFile{}, undo: map[string][]byte{}, left: rnd.IntN([...]int{25, 300}[rnd.IntN(2)])}
			boot, want, safe, changes := untilTheCut(t, fsys, dir)
			fsys.cut(t)
			if boot == 0 {
				continue // cut while it was opened
			}
			require.Greater(t, boot, last)
			last = boot
			_, frames, rep := exported(t, dir, boot)
			require.GreaterOrEqual(t, len(frames), safe)
			for i := range frames {
				require.Equal(t, want[i], frames[i])
			}
			got, _, err := Events(dir, boot)
			require.NoError(t, err)
			require.GreaterOrEqual(t, len(got), changes)
			for _, p := range rep.Problems {
				require.True(t, strings.Contains(p, "frames-"), p)
			}
			runs, err := List(dir)
			require.NoError(t, err)
			require.Equal(t, testInfo.Machine, runs[len(runs)-1].Machine, "an open run can always be told")
		}
	})
}

// untilTheCut records until the power goes. safe and changes are the frames
// and transitions that Sync has returned for.
func untilTheCut(t *rapid.T, fsys *powerFS, dir string) (boot uint64, want []frame.Frame, safe, changes int) {
	r, err := open(fsys, dir, Options{SegmentBytes: 4000, Info: testInfo})
	if err != nil {
		require.ErrorIs(t, err, errPower)
		return 0, nil, 0, 0
	}
	g := newRigT(t)
	appended := 0
	for {
		k := g.next()
		require.NoError(t, r.Append(k.t, k.wall, &k.raw, k.v))
		want = append(want, k.raw)
		appended += len(k.v.Transitions())
		if fsys.rnd.IntN(4) != 0 {
			continue
		}
		if err := r.Sync(); err != nil {
			require.ErrorIs(t, err, errPower)
			return r.Boot(), want, safe, changes
		}
		safe, changes = len(want), appended
	}
}
