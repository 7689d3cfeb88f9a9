package store

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/record"
	"headroom/rules/alarm"
)

var ctx = context.Background()

// TestReplayGivesTheSameVerdicts records through the queue, with seals and a
// power cut in between, exports and judges anew: every byte of every verdict
// must be the same.
func TestReplayGivesTheSameVerdicts(t *testing.T) {
	dir := t.TempDir()
	r := newRig(t)
	ticks := r.take(5000)
	s := open(t, dir, Options{SealFrames: 700})
	boot := s.Boot()
	feed(t, s, r, ticks)
	require.NoError(t, s.Sync())
	require.Positive(t, s.Health().Seals)
	require.Positive(t, s.Health().PendingFrames, "some must be in the tail only")
	var first []byte
	for _, k := range ticks {
		first = k.v.Append(first)
	}
	require.Greater(t, transitions(ticks), 20, "a run in which nothing happens proves nothing")

	check := func(v *view) {
		require.True(t, bytes.Equal(first, replay(t, bytes.NewReader(export(t, v, RunID{Boot: boot})))))
		requireFrames(t, v, boot, ticks)
		events, err := v.Events(ctx, RunID{Boot: boot})
		require.NoError(t, err)
		require.Len(t, events, transitions(ticks))
		i := 0
		for _, k := range ticks {
			for _, tr := range k.v.Transitions() {
				require.Equal(t, newEvent(boot, k.wall, &tr), events[i])
				i++
			}
		}
	}
	check(&s.view)
	rd, err := OpenReader(dir)
	require.NoError(t, err)
	check(&rd.view)
	require.NoError(t, rd.Close())

	drop(t, s)
	s = open(t, dir, Options{})
	require.Equal(t, boot+1, s.Boot())
	require.Positive(t, s.Health().TakenOver)
	check(&s.view)
	require.NoError(t, s.Close())
	require.NoError(t, s.Close(), "twice is once")

	s = open(t, dir, Options{})
	require.Zero(t, s.Health().TakenOver, "nothing is taken over twice")
	check(&s.view)
	finding, err := s.Check(ctx)
	require.NoError(t, err)
	require.True(t, finding.OK(), finding)
	require.Positive(t, finding.Blocks)
	require.NoError(t, s.Close())
}

// TestBehindTheQueue runs the store behind record.Queue as the daemon will.
func TestBehindTheQueue(t *testing.T) {
	dir := t.TempDir()
	q := record.NewQueue(2000)
	r := newRig(t)
	ticks := r.take(1500)
	run, stop := context.WithCancel(ctx)
	done := make(chan error)
	var boot uint64
	go func() {
		done <- q.Run(run, func() (record.Log, error) {
			s, err := Open(dir, Options{TailBytes: 64 << 10, Info: testInfo})
			if err == nil {
				boot = s.Boot()
			}
			return s, err
		})
	}()
	for _, k := range ticks {
		q.Put(k.t, k.wall, &k.raw, &k.v)
	}
	stop()
	require.NoError(t, <-done)
	require.Equal(t, record.Health{}, q.Health())
	rd, err := OpenReader(dir)
	require.NoError(t, err)
	requireFrames(t, &rd.view, boot, ticks)
	require.NoError(t, rd.Close())
}

// TestTakenOverOnce puts an old tail back, as if the power had failed between
// the database's commit and the tail's next write, at every stage.
func TestTakenOverOnce(t *testing.T) {
	dir := t.TempDir()
	r := newRig(t)
	ticks := r.take(900)
	s := open(t, dir, Options{})
	feed(t, s, r, ticks)
	_, err := s.Act(Act{T: r.at, Who: "P. Example", What: alarm.Acknowledge.String(), Alarm: "inlet_low.warn"})
	require.NoError(t, err)
	drop(t, s)
	old, err := os.ReadFile(filepath.Join(dir, tailName))
	require.NoError(t, err)
	for range 3 {
		require.NoError(t, os.WriteFile(filepath.Join(dir, tailName), old, 0o644))
		s = open(t, dir, Options{})
		requireFrames(t, &s.view, 1, ticks)
		acts, err := s.Acts(ctx, RunID{Boot: 1})
		require.NoError(t, err)
		require.Len(t, acts, 1)
		require.Equal(t, "P. Example", acts[0].Who)
		events, err := s.Events(ctx, RunID{Boot: 1})
		require.NoError(t, err)
		require.Len(t, events, transitions(ticks))
		require.NoError(t, s.Close())
	}
}

// TestNothingIsLostWithTheTail: a tail that vanished costs only what was in
// it, and the new one's numbers are not taken for old.
func TestNothingIsLostWithTheTail(t *testing.T) {
	dir := t.TempDir()
	r := newRig(t)
	s := open(t, dir, Options{})
	first := r.take(500)
	feed(t, s, r, first)
	require.NoError(t, s.Close())
	require.NoError(t, os.Remove(filepath.Join(dir, tailName)))
	s = open(t, dir, Options{})
	second := r.take(300)
	feed(t, s, r, second)
	drop(t, s)
	s = open(t, dir, Options{})
	requireFrames(t, &s.view, 1, first)
	requireFrames(t, &s.view, 2, second)
	require.NoError(t, s.Close())
}

// TestActsAndReadersBesideTheWriter is for the race detector too.
func TestActsAndReadersBesideTheWriter(t *testing.T) {
	s := open(t, t.TempDir(), Options{SealFrames: 100})
	r := newRig(t)
	ticks := r.take(1200)
	var all sync.WaitGroup
	stop := make(chan struct{})
	for range 2 {
		all.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
				}
				last, n := time.Duration(0), 0
				for k, err := range s.Frames(ctx, RunID{Boot: s.Boot()}, 0, 0) {
					require.NoError(t, err)
					require.Greater(t, k.T, last)
					requireTick(t, ticks[n], &k)
					last = k.T
					n++
				}
				_, err := s.ListRuns(ctx, 0)
				require.NoError(t, err)
			}
		})
	}
	all.Go(func() {
		for i := range 50 {
			a, err := s.Act(Act{T: time.Duration(i), What: "note", Text: "x"})
			require.NoError(t, err)
			require.Equal(t, i+1, a.N)
		}
	})
	feed(t, s, r, ticks)
	close(stop)
	all.Wait()
	acts, err := s.Acts(ctx, RunID{Boot: s.Boot()})
	require.NoError(t, err)
	require.Len(t, acts, 50)
	requireFrames(t, &s.view, s.Boot(), ticks)
	require.NoError(t, s.Close())
	require.ErrorIs(t, s.Sync(), errClosed)
	_, err = s.Act(Act{})
	require.ErrorIs(t, err, errClosed)
}

func TestAppendPassesOverAndFillsUp(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	k := newRig(t).next()
	for range 2 { // the second one's time doesn't move on
		require.NoError(t, s.Append(k.t, k.wall, &k.raw, &k.v))
	}
	var err error
	n := 1
	for ; err == nil; n++ {
		k.t += time.Millisecond
		err = s.Append(k.t, k.wall, &k.raw, &k.v)
	}
	require.ErrorIs(t, err, record.ErrFull)
	require.Equal(t, maxHeld+1, n)
	require.NoError(t, s.Sync())
	require.NoError(t, s.Append(k.t, k.wall, &k.raw, &k.v))
	require.NoError(t, s.Close())
}

func TestConfigsAndBoots(t *testing.T) {
	dir := t.TempDir()
	for i := range 2 {
		info := testInfo
		info.Software = []string{"1.0", "1.1"}[i]
		require.NoError(t, open(t, dir, Options{Info: info}).Close())
	}
	rd, err := OpenReader(dir)
	require.NoError(t, err)
	defer rd.Close()
	boots, err := rd.Boots(ctx)
	require.NoError(t, err)
	require.Len(t, boots, 2)
	require.Equal(t, Info{Boot: 2, Software: "1.1", ConfigHash: testInfo.ConfigHash, Machine: testInfo.Machine, StartWall: startWall}, boots[1])
	text, ok, err := rd.Config(ctx, testInfo.ConfigHash)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, testInfo.ConfigText, text)
	_, ok, err = rd.Config(ctx, "none")
	require.NoError(t, err)
	require.False(t, ok)
	_, err = OpenReader(t.TempDir())
	require.ErrorIs(t, err, os.ErrNotExist)
	_, err = rd.Run(ctx, RunID{9, 9})
	require.ErrorIs(t, err, ErrNoRun)
	_, err = rd.ExportCSV(ctx, io.Discard, RunID{Boot: 9}, 0, 0)
	require.ErrorContains(t, err, "no frames")
}

func TestRunIDs(t *testing.T) {
	for text, want := range map[string]RunID{"12.3": {12, 3}, "7": {7, 0}} {
		id, err := ParseRunID(text)
		require.NoError(t, err)
		require.Equal(t, want, id)
	}
	require.Equal(t, "12.3", RunID{12, 3}.String())
	for _, text := range []string{"", "x", "1.", "1.-2", "-1", "1.2.3"} {
		_, err := ParseRunID(text)
		require.ErrorContains(t, err, "names no run", text)
	}
}
