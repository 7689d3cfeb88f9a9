package store

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/deploy/rig/emulated"
)

// childDir is the variable that makes TestKilledChild the child of
// TestNothingSyncedIsLostByKill.
const childDir = "HEADROOM_STORE_CHILD"

// TestKilledChild records as fast as it can, sealing often, and says what it
// has synced, until it is killed.
func TestKilledChild(t *testing.T) {
	dir := os.Getenv(childDir)
	if dir == "" {
		t.Skip("runs only as a child of TestNothingSyncedIsLostByKill")
	}
	s := open(t, dir, Options{SealFrames: 60, TailBytes: 64 << 10})
	r := newRig(t)
	events := 0
	for {
		k := r.next()
		put(t, s, r, k)
		if events += len(k.v.Transitions()); r.n%7 == 0 {
			require.NoError(t, s.Sync())
			a, err := s.Act(Act{T: k.t, What: "note"})
			require.NoError(t, err)
			fmt.Printf("synced %d %d %d %d\n", s.Boot(), r.n, events, a.N)
		}
	}
}

// TestNothingSyncedIsLostByKill kills a recording process at random instants,
// again and again over the same folder.
func TestNothingSyncedIsLostByKill(t *testing.T) {
	dir := t.TempDir()
	rounds := 12
	if testing.Short() {
		rounds = 3
	}
	for round := range rounds {
		said := killOne(t, dir)
		require.EqualValues(t, round+1, said.boot)
		rd, err := OpenReader(dir)
		require.NoError(t, err)
		requireSaid(t, &rd.view, said)
		require.NoError(t, rd.Close())
	}
	s := open(t, dir, Options{})
	f, err := s.Check(ctx)
	require.NoError(t, err)
	require.True(t, f.OK(), f)
	require.EqualValues(t, rounds+1, s.Boot())
	require.NoError(t, s.Close())
}

type said struct {
	boot                 uint64
	frames, events, acts int
}

func requireSaid(t *testing.T, v *view, want said) {
	t.Helper()
	r := newRig(t)
	n := 0
	for k, err := range v.Frames(ctx, RunID{Boot: want.boot}, 0, 0) {
		require.NoError(t, err)
		requireTick(t, r.next(), &k)
		n++
	}
	require.GreaterOrEqual(t, n, want.frames)
	events, err := v.Events(ctx, RunID{Boot: want.boot})
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(events), want.events)
	acts, err := v.Acts(ctx, RunID{Boot: want.boot})
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(acts), want.acts)
	for i := range acts {
		require.Equal(t, i+1, acts[i].N)
	}
}

// killOne returns the last that the child said was synced.
func killOne(t *testing.T, dir string) (last said) {
	t.Helper()
	child := emulated.Self(t.Context(), "-test.run=^TestKilledChild$")
	child.Env = append(os.Environ(), childDir+"="+dir)
	out, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	var timer *time.Timer
	in := bufio.NewScanner(out)
	for in.Scan() {
		n, _ := fmt.Sscanf(in.Text(), "synced %d %d %d %d", &last.boot, &last.frames, &last.events, &last.acts)
		if n == 4 && timer == nil {
			timer = time.AfterFunc(time.Duration(rand.IntN(150_000))*time.Microsecond, func() {
				_ = child.Process.Kill() // SIGKILL: no handler, no farewell
			})
		}
	}
	require.Error(t, child.Wait(), "the child ends by the kill only")
	require.NotNil(t, timer, "the child said nothing")
	return last
}

// copyDir copies a record as it lies on disk.
func copyDir(t require.TestingT, from, to string) {
	entries, err := os.ReadDir(from)
	require.NoError(t, err)
	require.NoError(t, os.MkdirAll(to, 0o755))
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(from, e.Name()))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(to, e.Name()), data, 0o644))
	}
}

// TestTailTornAtEveryByte cuts the tail's last record after every byte, with
// zeros or noise behind: the seconds before are all there, the next Open works.
func TestTailTornAtEveryByte(t *testing.T) {
	dir := t.TempDir()
	r := newRig(t)
	ticks := r.take(40)
	s := open(t, dir, Options{TailBytes: 16 << 10})
	for i, k := range ticks {
		put(t, s, r, k)
		if i%10 == 9 {
			require.NoError(t, s.Sync())
		}
	}
	drop(t, s)
	whole, err := os.ReadFile(filepath.Join(dir, tailName))
	require.NoError(t, err)
	// The four seconds take four records; the last one begins where the fourth
	// magic stands.
	begin := lastRecord(whole)
	end := begin + 2048
	rnd := rand.New(rand.NewPCG(5, 5))
	each := 1
	if testing.Short() {
		each = 37
	}
	for n := begin; n < end; n += each {
		torn := append([]byte(nil), whole...)
		clear(torn[n:])
		if n%2 == 1 {
			for i := n; i < end; i++ {
				torn[i] = byte(rnd.Uint32())
			}
		}
		work := t.TempDir()
		copyDir(t, dir, work)
		require.NoError(t, os.WriteFile(filepath.Join(work, tailName), torn, 0o644))
		// A reader takes the same path without the cost of a new boot.
		rd, err := OpenReader(work)
		require.NoError(t, err)
		got := 0
		for k, err := range rd.Frames(ctx, RunID{Boot: 1}, 0, 0) {
			require.NoError(t, err)
			requireTick(t, ticks[got], &k)
			got++
		}
		require.Contains(t, []int{30, 40}, got)
		require.NoError(t, rd.Close())
		if n%97 == 0 {
			s := open(t, work, Options{TailBytes: 16 << 10})
			requireFrames(t, &s.view, 1, ticks[:got])
			more := newRig(t)
			feed(t, s, more, more.take(20))
			require.NoError(t, s.Close())
		}
		require.NoError(t, os.RemoveAll(work))
	}
}

// lastRecord finds where the last record of a tail begins.
func lastRecord(content []byte) (at int) {
	for i := 0; i+4 <= len(content); i += 512 {
		if string(content[i:i+4]) == "HRt1" {
			at = i
		}
	}
	return at
}

// TestFlippedBytesNeverGiveWrongFrames damages the database anywhere. Whatever
// is then given is right, and what is missing is told: as lost, or because the
// damaged file was put aside.
func TestFlippedBytesNeverGiveWrongFrames(t *testing.T) {
	dir := t.TempDir()
	r := newRig(t)
	ticks := r.take(3000)
	s := open(t, dir, Options{SealFrames: 250})
	feed(t, s, r, ticks)
	require.NoError(t, s.Close())
	at := map[time.Duration]*tick{}
	for _, k := range ticks {
		at[k.t] = k
	}
	whole, err := os.ReadFile(filepath.Join(dir, databaseName))
	require.NoError(t, err)
	outcomes := map[string]int{}
	work := filepath.Join(t.TempDir(), "work")
	rapid.Check(t, func(t *rapid.T) {
		require.NoError(t, os.RemoveAll(work))
		copyDir(t, dir, work)
		bad := append([]byte(nil), whole...)
		// Rapid prefers small numbers, which are the head; half of the time
		// anywhere is meant.
		anywhere := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		for range rapid.IntRange(1, 3).Draw(t, "flips") {
			at := rapid.IntRange(0, len(bad)-1).Draw(t, "at")
			if rapid.Bool().Draw(t, "anywhere") {
				at = anywhere.IntN(len(bad))
			}
			bad[at] ^= rapid.ByteRange(1, 255).Draw(t, "mask")
		}
		require.NoError(t, os.WriteFile(filepath.Join(work, databaseName), bad, 0o644))
		s, err := Open(work, Options{Info: testInfo, TailBytes: 16 << 10})
		if err != nil {
			outcomes["refused"]++
			require.ErrorContains(t, err, "record") // in words, and never a panic
			return
		}
		outcomes[flipOutcome(t, s, at)]++
		_ = s.Close() // a damaged record may not take more
	})
	t.Logf("outcomes: %v", outcomes)
	require.Positive(t, outcomes["lost frames told"])
	require.Positive(t, outcomes["put aside, taken over"])
}

// flipOutcome reads a damaged record: each frame must be one that went in, in
// order, and if any are missing something must say so.
func flipOutcome(t *rapid.T, s *Store, at map[time.Duration]*tick) string {
	n, lost, last := 0, 0, time.Duration(-1)
	given := map[time.Duration]bool{}
	defer func() { requireTold(t, s, at, given) }()
	for k, err := range s.Frames(ctx, RunID{Boot: 1}, 0, 0) {
		if err != nil {
			lost++ // a *LostError, or the last
			continue
		}
		require.NotNil(t, at[k.T], "a frame at a time that none was taken at")
		requireTick(t, at[k.T], &k)
		require.Greater(t, k.T, last)
		last = k.T
		given[k.T] = true
		n++
	}
	switch {
	case len(s.Health().Problems) > 0:
		return "put aside, taken over"
	case lost > 0:
		return "lost frames told"
	case n == len(at):
		return "frames untouched"
	}
	f, err := s.Check(ctx)
	require.True(t, err != nil || !f.OK(), "frames are missing and nothing says so: %d of %d", n, len(at))
	return "told by the check only"
}

// requireTold makes sure that the chain names an interval for every frame that
// is not given, also where the damaged file was put aside.
func requireTold(t *rapid.T, s *Store, at map[time.Duration]*tick, given map[time.Duration]bool) {
	v, err := s.VerifyChain(ctx)
	if err != nil {
		return // it can't be read at all, and that is said
	}
	for when := range at {
		if given[when] {
			continue
		}
		told := slices.ContainsFunc(v.Breaks, func(b Break) bool {
			return b.From == 0 && b.To == 0 || b.From <= when && when <= b.To || strings.Contains(b.Why, "are missing")
		})
		require.True(t, told, "the frame at %v is gone, and the chain says only %v", when, v.Breaks)
	}
}
