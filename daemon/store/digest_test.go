package store

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/store/tail"
	"headroom/rules/engine"
)

// TestReplaysAreShownToBeTheSame compares a replay with the digests of then,
// while some are in the tail only, after a power cut, and after one bit of one
// frame was different.
func TestReplaysAreShownToBeTheSame(t *testing.T) {
	dir := t.TempDir()
	r := newRig(t)
	ticks := r.take(2500)
	s := open(t, dir, Options{SealFrames: 700})
	feed(t, s, r, ticks)
	require.NoError(t, s.Sync())
	requireSame(t, &s.view, 1, ticks)
	drop(t, s)
	s = open(t, dir, Options{})
	requireSame(t, &s.view, 1, ticks)
	list, err := s.Digests(ctx, 1)
	require.NoError(t, err)
	require.Greater(t, len(list), 2, "a mismatch must be found to some minutes")

	m := NewMatcher(list)
	e, err := engine.New(jetter())
	require.NoError(t, err)
	var state engine.State
	for i, k := range ticks {
		if i == 1200 { // the least that can differ
			k.raw.Samples[0].Value += 30
		}
		m.Note(e.Step(&state, &k.raw, k.t))
	}
	match := m.End()
	require.NotEmpty(t, match.Different)
	require.NotEmpty(t, match.Same)
	for _, d := range match.Same {
		require.False(t, d.From <= ticks[1200].t && ticks[1200].t <= d.To)
	}
	require.LessOrEqual(t, match.Different[0].From, ticks[1200].t)
	require.GreaterOrEqual(t, match.Different[0].To, ticks[1200].t)

	m = NewMatcher(list)
	for _, k := range ticks[:100] {
		m.Note(&k.v)
	}
	match = m.End()
	require.Empty(t, match.Same)
	require.Len(t, match.Missing, len(list), "what isn't there is not the same")
	require.NoError(t, s.Close())
}

// requireSame replays what the record holds.
func requireSame(t require.TestingT, v *view, boot uint64, ticks []*tick) {
	list, err := v.Digests(ctx, boot)
	require.NoError(t, err)
	m := NewMatcher(list)
	e, err := engine.New(jetter())
	require.NoError(t, err)
	var state engine.State
	for k, err := range v.Frames(ctx, RunID{Boot: boot}, 0, 0) {
		require.NoError(t, err)
		m.Note(e.Step(&state, &k.Frame, k.T))
	}
	match := m.End()
	require.Empty(t, match.Different)
	require.Empty(t, match.Missing)
	require.Equal(t, len(ticks), match.Frames+match.Uncovered)
	require.LessOrEqual(t, match.Uncovered*10, len(ticks))
}

// TestDigestsWhileTheTailFails: whatever fails, no digest is wrong.
func TestDigestsWhileTheTailFails(t *testing.T) {
	dir := t.TempDir()
	var f faulty
	s := open(t, dir, Options{openTail: f.open, SealFrames: 200, TailBytes: 16 << 10})
	r := newRig(t)
	rnd := rand.New(rand.NewPCG(1, 2))
	ticks := r.take(3000)
	for i, k := range ticks {
		put(t, s, r, k)
		if i%10 == 9 {
			f.set(nil)
			if rnd.IntN(4) == 0 {
				f.set(only([]string{"write", "sync", "open"}[rnd.IntN(3)], tail.ErrFull))
			}
			_ = s.Sync() // the next one has it
		}
	}
	f.set(nil)
	require.NoError(t, s.Sync())
	list, err := s.Digests(ctx, 1)
	require.NoError(t, err)
	require.NotEmpty(t, list)
	m := NewMatcher(list)
	for _, k := range ticks {
		m.Note(&k.v)
	}
	match := m.End()
	require.Empty(t, match.Different)
	require.Empty(t, match.Missing)
	require.NoError(t, s.Close())
	require.True(t, verified(t, dir).OK())
}

func TestDigestsPack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := VerdictDigest{From: time.Duration(rapid.Int64Range(-1<<60, 1<<60).Draw(t, "from")), Frames: rapid.IntRange(1, 1<<30).Draw(t, "frames")}
		d.To = d.From + time.Duration(rapid.Int64Range(0, 1<<60).Draw(t, "width"))
		copy(d.Sum[:], rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "sum"))
		b := d.append(nil)
		got, err := readDigest(b)
		require.NoError(t, err)
		require.Equal(t, d, got)
		for i := range b {
			_, err := readDigest(b[:i])
			require.Error(t, err)
		}
	})
}

func FuzzReadDigest(f *testing.F) {
	f.Add((&VerdictDigest{From: 5, To: 9, Frames: 3}).append(nil))
	f.Fuzz(func(_ *testing.T, b []byte) {
		_, _ = readDigest(b) // must not panic
	})
}

// BenchmarkTickAndDigest puts what the proof costs for each frame beside the
// engine's own step; both in one run.
func BenchmarkTickAndDigest(b *testing.B) {
	r := newRig(b)
	ticks := r.take(2000)
	b.Run("step", func(b *testing.B) {
		e, err := engine.New(jetter())
		require.NoError(b, err)
		var state engine.State
		t := time.Duration(0)
		b.ReportAllocs()
		for i := 0; b.Loop(); i++ {
			t += 100 * time.Millisecond
			e.Step(&state, &ticks[i%len(ticks)].raw, t)
		}
	})
	b.Run("digest", func(b *testing.B) {
		var s summer
		s.add(0, &ticks[0].v)
		b.SetBytes(int64(len(s.buf)))
		b.ReportAllocs()
		for i := 0; b.Loop(); i++ {
			s.add(time.Duration(i), &ticks[i%len(ticks)].v)
		}
	})
}
