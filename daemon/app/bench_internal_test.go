package app

import (
	"context"
	"log/slog"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/bench"
	"headroom/daemon/config"
	"headroom/daemon/snapshot"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// shopFloor publishes what a tick would.
type shopFloor struct {
	frames *snapshot.Store
	rng    *rand.Rand
	seq    uint64
}

func (f *shopFloor) publish(values map[frame.Channel]float64, n int) {
	for range n {
		f.seq++
		s := &snapshot.Snapshot{Seq: f.seq, Mono: time.Duration(f.seq) * 100 * time.Millisecond, Wall: time.Now()}
		var fr frame.Frame
		for c := range frame.NumChannels {
			if v, ok := values[c]; ok {
				fr.Set(c, v*(1+0.001*f.rng.NormFloat64()))
			}
		}
		s.Verdicts.Samples = fr.Samples
		f.frames.Publish(s)
	}
}

var still = map[frame.Channel]float64{frame.OutletPressure: 0, frame.Flow: 0, frame.ShaftSpeed: 0, frame.MotorCurrent: 0}

func benchOf(t *testing.T, folder string) (*Bench, *shopFloor) {
	f := &shopFloor{frames: snapshot.NewStore(), rng: rand.New(rand.NewPCG(1, 1))}
	return makeBench(benchOptions{
		folder: folder, config: config.Default(), source: bench.OwnSensors, frames: f.frames, wall: time.Now, log: slog.New(slog.DiscardHandler),
	}), f
}

func twoLoads(t *testing.T) bench.Setup {
	p := bench.Generic().Pumps[0]
	plan, err := bench.NewPlan(p, bench.Choice{LoadShares: []float64{0.5, 1}, WindowS: 10})
	require.NoError(t, err)
	return bench.Setup{Pump: p, Plan: plan, Who: "Ada"}
}

// A test that the power cut is taken up by the next start of the program, with
// the points that it had, and goes on at a person's word.
func TestBenchGoesOnAfterAPowerCut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		folder := t.TempDir()
		b, floor := benchOf(t, folder)
		ctx, cut := context.WithCancel(t.Context())
		var all sync.WaitGroup
		all.Go(func() { b.run(ctx) })
		synctest.Wait()
		id, err := b.Begin(twoLoads(t))
		require.NoError(t, err)
		_, err = b.Begin(twoLoads(t))
		require.ErrorContains(t, err, "is under way: end it first")
		for range 120 {
			floor.publish(still, 1)
			synctest.Wait()
		}
		l, ok := b.Look(units.SI)
		require.True(t, ok)
		require.Equal(t, bench.NoLoad, l.View.Step.Kind, "rest is taken by itself")
		cut()
		all.Wait()

		kept, err := bench.NewStore(folder).Load(id)
		require.NoError(t, err)
		require.Len(t, kept.Points, 1, "a point is on the medium as soon as it is taken")

		next, floor := benchOf(t, folder)
		ctx, stop := context.WithCancel(t.Context())
		defer stop()
		all.Go(func() { next.run(ctx) })
		synctest.Wait()
		l, ok = next.Look(units.SI)
		require.True(t, ok)
		require.Equal(t, id, l.Record.ID)
		require.Len(t, l.Record.Points, 1)
		require.True(t, l.View.Halted)
		require.Equal(t, bench.NoLoad, l.View.Step.Kind)
		require.ErrorContains(t, next.Do(id, func(s *bench.Session, now time.Time) error { return s.Skip("no time", now) }), "cut off")
		_, err = next.Begin(twoLoads(t))
		require.ErrorContains(t, err, "was cut off and waits: go on with it, or end it, first")
		noLoad := map[frame.Channel]float64{frame.OutletPressure: 2e5, frame.InletPressure: 3e5, frame.Flow: l.Record.Pump.FlowM3s, frame.ShaftSpeed: l.Record.Pump.SpeedHz, frame.MotorCurrent: 5}
		minute := func() *bench.Record {
			for range 600 {
				floor.publish(noLoad, 1)
				synctest.Wait()
			}
			l, ok := next.Look(units.SI)
			require.True(t, ok)
			return l.Record
		}
		require.Len(t, minute().Points, 1, "field work is no point of the test")
		waiting, err := next.Test(id)
		require.NoError(t, err)
		require.Equal(t, kept.Hash(), waiting.Hash(), "nothing is written without a word")

		require.NoError(t, next.Resume(id))
		require.ErrorContains(t, next.Resume(id), "is under way already")
		went, err := next.Test(id)
		require.NoError(t, err)
		require.Equal(t, "the program was started again; gone on with from the dashboard", went.Breaks[0].Why)
		require.Len(t, minute().Points, 2, "the same readings count once a person has said so")
		floor.publish(still, 5)
		synctest.Wait()
		require.NoError(t, next.Do(id, func(s *bench.Session, now time.Time) error { s.Abort("enough", now); return nil }))
		require.ErrorContains(t, next.Resume(id), "can't be gone on with")
		stop()
		all.Wait()
	})
}

// What was begun on other readings is left alone.
func TestBenchLeavesTestsOfOtherReadingsAlone(t *testing.T) {
	folder := t.TempDir()
	b, _ := benchOf(t, folder)
	b.opt.source = "the simulator"
	id, err := b.Begin(twoLoads(t))
	require.NoError(t, err)
	next, _ := benchOf(t, folder)
	next.reopenLast()
	_, ok := next.Look(units.SI)
	require.False(t, ok)
	require.ErrorContains(t, next.Resume(id), "readings come from this machine's sensors now")
	require.ErrorContains(t, next.Resume("../x"), "not the name of a test")
}

// Ticks that came while the medium was slow are fed later, none twice.
func TestBenchFeedsWhatItMissed(t *testing.T) {
	b, floor := benchOf(t, t.TempDir())
	floor.publish(still, 3)
	_, err := b.Begin(twoLoads(t))
	require.NoError(t, err)
	floor.publish(still, 40)
	b.feed()
	b.feed()
	require.Equal(t, uint64(43), b.fed)
	l, _ := b.Look(units.SI)
	require.Equal(t, 40, l.Standings[0].N)
}

// A medium that fails is told, and the test is kept once it works again.
func TestBenchIsKeptOnceTheMediumWorks(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "bench")
	require.NoError(t, os.WriteFile(folder, nil, 0o600)) // a file where the folder should be
	b, floor := benchOf(t, folder)
	b.store = bench.NewStore(folder)
	s, err := bench.NewSession(func() bench.Setup { s := twoLoads(t); s.Began = time.Now(); return s }())
	require.NoError(t, err)
	b.mu.Lock()
	require.Error(t, b.take(s))
	b.mu.Unlock()
	l, _ := b.Look(units.SI)
	require.Error(t, l.Unkept)
	require.NoError(t, os.Remove(folder))
	b.triedAt = time.Time{}
	floor.publish(still, 1)
	b.feed()
	l, _ = b.Look(units.SI)
	require.NoError(t, l.Unkept)
	require.True(t, b.store.Has(l.Record.ID))
}

// A baseline needs a file, and a test that is good for one.
func TestBenchBaselineIsRefused(t *testing.T) {
	b, _ := benchOf(t, t.TempDir())
	id, err := b.Begin(twoLoads(t))
	require.NoError(t, err)
	require.ErrorContains(t, b.WriteBaseline(id), "without a config file")
	b.opt.configFile = filepath.Join(t.TempDir(), "my.toml")
	require.ErrorIs(t, b.WriteBaseline(id), os.ErrNotExist)
	require.NoError(t, os.WriteFile(b.opt.configFile, []byte("[machine]\nname = \"mine\"\n"), 0o600))
	require.ErrorContains(t, b.WriteBaseline(id), "two are needed")
	require.ErrorContains(t, b.SetLibrary("[[pump]]"), "the pump has no name")
}
