package tail

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// memFile is a file that loses at a power cut what wasn't synced, and fails as
// told.
type memFile struct {
	safe, now []byte
	unit      int64
	fail      func(op string) error
	short     int // bytes that a failing write still writes
}

func newMem(bytes int64) *memFile {
	return &memFile{safe: make([]byte, bytes), now: make([]byte, bytes), unit: sector}
}

func (m *memFile) failing(op string) error {
	if m.fail == nil {
		return nil
	}
	return m.fail(op)
}

func (m *memFile) ReadAt(b []byte, at int64) (int, error) {
	if err := m.failing("read"); err != nil {
		return 0, err
	}
	return copy(b, m.now[at:]), nil
}

func (m *memFile) WriteAt(b []byte, at int64) (int, error) {
	if at%m.unit != 0 || int64(len(b))%m.unit != 0 {
		return 0, syscall.EINVAL
	}
	if err := m.failing("write"); err != nil {
		return copy(m.now[at:], b[:min(m.short, len(b))]), err
	}
	return copy(m.now[at:], b), nil
}

func (m *memFile) Sync() error {
	if err := m.failing("sync"); err != nil {
		return err
	}
	copy(m.safe, m.now)
	return nil
}

func (m *memFile) Close() error { return m.failing("close") }
func (m *memFile) Bytes() int64 { return int64(len(m.now)) }
func (m *memFile) Unit() int64  { return m.unit }

func (m *memFile) opener() Opener { return func(string, int64) (File, error) { return m, nil } }

func reopen(t require.TestingT, m *memFile, released uint64) (*Ring, []Record) {
	r, all, err := Open(m.opener(), "", 0, released)
	require.NoError(t, err)
	return r, all
}

func payload(n uint64, size int) []byte {
	b := []byte(fmt.Sprintf("%d:", n))
	for len(b) < size {
		b = append(b, byte(n*uint64(len(b))))
	}
	return b
}

func TestRecordsComeBackInOrder(t *testing.T) {
	path := filepath.Join(t.TempDir(), "tail")
	r, all, err := Open(OpenFile, path, 1<<16, 0)
	require.NoError(t, err)
	require.Empty(t, all)
	for i := range uint64(300) { // several times round
		seq, err := r.Append(7, payload(i+1, int(i*37%1500)))
		require.NoError(t, err)
		require.Equal(t, i+1, seq)
		if i > 10 {
			r.Release(seq - 10)
		}
	}
	require.InDelta(t, 0.2, r.Share(), 0.15)
	require.NoError(t, r.Close())
	r, all, err = Open(OpenFile, path, 1<<16, 290)
	require.NoError(t, err)
	require.Len(t, all, 10)
	for i, rec := range all {
		n := uint64(291 + i)
		require.Equal(t, n, rec.Seq)
		require.EqualValues(t, 7, rec.Boot)
		require.Equal(t, payload(n, int((n-1)*37%1500)), rec.Payload)
	}
	seq, err := r.Append(8, nil)
	require.NoError(t, err)
	require.EqualValues(t, 301, seq)
	require.NoError(t, r.Close())
	info, err := os.Stat(path)
	require.NoError(t, err)
	require.EqualValues(t, 1<<16, info.Size(), "the size never changes")
}

// TestNothingUnreleasedIsWrittenOver runs the ring against a plain list.
func TestNothingUnreleasedIsWrittenOver(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := newMem(16 << 10)
		r, _ := reopen(t, m, 0)
		kept := map[uint64][]byte{}
		released, full := uint64(0), 0
		for range rapid.IntRange(1, 80).Draw(t, "steps") {
			switch rapid.SampledFrom([]string{"append", "append", "append", "release", "reopen", "fail"}).Draw(t, "step") {
			case "append":
				p := payload(r.Seq()+1, rapid.IntRange(0, 3000).Draw(t, "size"))
				n := roundUp(headBytes+int64(len(p)), m.Unit())
				occupied := r.occupied(n)
				seq, err := r.Append(1, p)
				if errors.Is(err, ErrFull) {
					full++
					require.Greater(t, occupied+n, m.Bytes(), "full only when it is")
					continue
				}
				require.NoError(t, err)
				kept[seq] = p
			case "release":
				released = rapid.Uint64Range(released, r.Seq()).Draw(t, "released")
				r.Release(released)
				for seq := range kept {
					if seq <= released {
						delete(kept, seq)
					}
				}
			case "fail":
				m.short = rapid.IntRange(0, 2000).Draw(t, "short")
				op := rapid.SampledFrom([]string{"write", "sync"}).Draw(t, "op")
				m.fail = func(o string) error {
					if o == op {
						return syscall.EIO
					}
					return nil
				}
				_, err := r.Append(1, payload(0, 1000))
				require.Error(t, err)
				m.fail = nil
			case "reopen": // with the power cut before
				m.now = append([]byte(nil), m.safe...)
				r, _ = reopen(t, m, released)
			}
			_, all := reopen(t, &memFile{safe: m.safe, now: append([]byte(nil), m.safe...), unit: m.unit}, released)
			found := map[uint64][]byte{}
			for _, rec := range all {
				found[rec.Seq] = rec.Payload
			}
			for seq, p := range kept {
				require.Equal(t, p, found[seq], "record %d", seq)
			}
		}
	})
}

// occupied is how much of the file can't be taken by a record of n bytes: from
// the oldest record that isn't released to the place of the next one, holes of
// failed writes included, and what is left at the end where that is too short.
func (r *Ring) occupied(n int64) int64 {
	if len(r.kept) == 0 {
		return 0
	}
	oldest, end := r.kept[0].from, r.f.Bytes()
	switch {
	case r.next <= oldest:
		return end - oldest + r.next
	case r.next+n > end:
		return end - oldest
	}
	return r.next - oldest
}

// TestTornAtEveryByte cuts the last write after every number of bytes, and
// leaves zeros, old bytes or noise behind.
func TestTornAtEveryByte(t *testing.T) {
	m := newMem(16 << 10)
	r, _ := reopen(t, m, 0)
	for i := range uint64(5) {
		_, err := r.Append(1, payload(i+1, 700))
		require.NoError(t, err)
	}
	before := append([]byte(nil), m.now...)
	_, err := r.Append(1, payload(6, 700))
	require.NoError(t, err)
	begin := int(r.kept[5].from)
	rnd := rand.New(rand.NewPCG(1, 1))
	for n := 0; n <= 1024; n++ {
		torn := append([]byte(nil), before...)
		copy(torn[begin:], m.now[begin:begin+n])
		if n%2 == 1 {
			for i := begin + n; i < begin+1024; i++ {
				torn[i] = byte(rnd.Uint32())
			}
		}
		after, all := reopen(t, &memFile{safe: torn, now: torn, unit: sector}, 0)
		want := 5
		if n >= headBytes+700 {
			want = 6
		}
		require.Len(t, all, want, "cut after %d bytes", n)
		seq, err := after.Append(1, payload(9, 100))
		require.NoError(t, err)
		require.EqualValues(t, want+1, seq)
	}
}

// TestFlippedBits turns every bit of a record over: the record is gone, its
// neighbours stay.
func TestFlippedBits(t *testing.T) {
	m := newMem(16 << 10)
	r, _ := reopen(t, m, 0)
	for i := range uint64(3) {
		_, err := r.Append(1, payload(i+1, 200))
		require.NoError(t, err)
	}
	for i := range headBytes + 200 {
		for bit := range 8 {
			at := int(r.kept[1].from) + i
			m.now[at] ^= 1 << bit
			_, all := reopen(t, m, 0)
			require.Len(t, all, 2)
			require.EqualValues(t, 1, all[0].Seq)
			require.EqualValues(t, 3, all[1].Seq)
			m.now[at] ^= 1 << bit
		}
	}
}

func TestErrorsAreToldAndSteppedOver(t *testing.T) {
	for _, op := range []string{"write", "sync"} {
		for _, why := range []error{syscall.ENOSPC, syscall.EIO, syscall.EROFS} {
			m := newMem(16 << 10)
			r, _ := reopen(t, m, 0)
			_, err := r.Append(1, payload(1, 10))
			require.NoError(t, err)
			m.fail = func(o string) error {
				if o == op {
					return why
				}
				return nil
			}
			_, err = r.Append(1, payload(2, 10))
			require.ErrorIs(t, err, why)
			m.fail = nil
			seq, err := r.Append(1, payload(3, 10))
			require.NoError(t, err)
			require.EqualValues(t, 3, seq)
			require.EqualValues(t, 2*sector, r.kept[1].from, "not where the error was")
		}
	}
	m := newMem(16 << 10)
	m.fail = func(string) error { return syscall.EIO }
	_, _, err := Open(m.opener(), "", 0, 0)
	require.ErrorIs(t, err, syscall.EIO)
	_, _, err = Open(newMem(100).opener(), "", 0, 0)
	require.ErrorContains(t, err, "only 100 bytes")
	_, _, err = Open(OpenFile, filepath.Join(t.TempDir(), "no", "tail"), 1<<16, 0)
	require.ErrorIs(t, err, os.ErrNotExist)
	r, _ := reopen(t, newMem(16<<10), 0)
	_, err = r.Append(1, make([]byte, maxPayload+1))
	require.ErrorContains(t, err, "at most")
	_, err = r.Append(1, make([]byte, 17<<10))
	require.ErrorIs(t, err, ErrFull)
}

// TestNumbersGoOnAfterALostFile: what the database has released must not be
// taken for new, should the tail be made anew.
func TestNumbersGoOnAfterALostFile(t *testing.T) {
	r, all := reopen(t, newMem(16<<10), 1234)
	require.Empty(t, all)
	seq, err := r.Append(1, nil)
	require.NoError(t, err)
	require.EqualValues(t, 1235, seq)
}

// TestLargerUnits opens a file of 512 byte records where only 4096 can be
// written.
func TestLargerUnits(t *testing.T) {
	m := newMem(32 << 10)
	r, _ := reopen(t, m, 0)
	_, err := r.Append(1, payload(1, 10))
	require.NoError(t, err)
	m.unit = largest
	r, all := reopen(t, m, 0)
	require.Len(t, all, 1)
	_, err = r.Append(1, payload(2, 10))
	require.NoError(t, err)
	_, all = reopen(t, m, 0)
	require.Len(t, all, 2)
	require.EqualValues(t, largest, all[1].place.from)
}

func FuzzFind(f *testing.F) {
	m := newMem(4 << 10)
	put(m.now[512:1024], 1, 2, 512, []byte("hello"))
	f.Add(m.now)
	f.Fuzz(func(t *testing.T, b []byte) {
		all, _ := find(b)
		for _, r := range all {
			require.LessOrEqual(t, r.place.from+headBytes+int64(len(r.Payload)), int64(len(b)))
		}
	})
}

func BenchmarkAppendSynced(b *testing.B) {
	r, _, err := Open(OpenFile, filepath.Join(b.TempDir(), "tail"), 1<<20, 0)
	require.NoError(b, err)
	p := payload(1, 250)
	for b.Loop() {
		seq, err := r.Append(1, p)
		require.NoError(b, err)
		r.Release(seq)
	}
}
