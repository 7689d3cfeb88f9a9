package remote

import (
	"context"
	"os"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store"
)

// wired measures what an hour of the record costs on the wire at a width.
func wired(t *testing.T, w time.Duration, budget int64, hours int) (st Stats, to *shelf) {
	t.Helper()
	to = newShelf()
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		r := recorded(t, dir, boot{start: noon, minutes: 60 * hours, trust: store.Synced})
		defer r.Close()
		opt := options(t, r, dir, handler(to))
		opt.Width, opt.Budget, opt.mostMinutes = w, budget, 5
		s, err := New(opt)
		require.NoError(t, err)
		fromStart(t, s, r)
		until(t, s, 1, int64(60*hours))
		st = s.Stats()
	})
	return st, to
}

// TestWhatAMinuteCosts: wider windows are cheaper, and each price is about what
// the budget begins to reckon with.
func TestWhatAMinuteCosts(t *testing.T) {
	last := 1e9
	for i, w := range widths[:3] {
		st, _ := wired(t, time.Duration(w), 0, 1)
		cost := float64(st.BytesOut+st.BytesIn) / float64(st.Minutes)
		t.Logf("window %v: %.0f bytes a minute, %.1f MB for a day of 24 h", time.Duration(w), cost, cost*1440/1e6)
		require.Less(t, cost, last)
		require.Less(t, cost, guesses[i]*1.5)
		last = cost
	}
}

// A budget is kept: windows get wider before it is passed, and readings are
// left out, counted, before alarms are.
func TestBudgetIsKept(t *testing.T) {
	free, all := wired(t, time.Second, 0, 3)
	spent := int64(free.BytesOut + free.BytesIn)
	some, _ := wired(t, 0, 40e6, 3)
	require.Zero(t, some.Bare)
	little, few := wired(t, 0, spent/20, 3)
	require.Less(t, little.Today, spent/2)
	require.Greater(t, little.Bare, uint64(0))
	require.Equal(t, all.of(nameFresh), few.of(nameFresh), "each minute is there")
	for _, name := range []string{"inlet_low.act", "inlet_low.warn"} {
		for _, level := range []string{"act", "warning"} {
			require.Equal(t, all.of(nameAlarm, "alarm", name, "level", level), few.of(nameAlarm, "alarm", name, "level", level), "and each alarm")
		}
	}
	require.Equal(t, all.of(nameWater), few.of(nameWater), "and each counter")
}

func TestChoose(t *testing.T) {
	midnight := time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		what   string
		budget int64
		spent  int64
		behind int64
		at     time.Duration
		want   int
	}{
		{"no budget", 0, 0, 0, 0, 1},
		{"plenty", 100e6, 0, 0, 0, 0},
		{"a whole day at 10 s", 5e6, 0, 0, 0, 1},
		{"days behind ask for more", 5e6, 0, 3000, 0, bare},
		{"the evening can pay for more", 5e6, 0, 0, 22 * time.Hour, 0},
		{"all spent", 5e6, 5e6, 0, 12 * time.Hour, bare},
		{"a new day begins anew", 5e6, 5e6, 0, 25 * time.Hour, 1},
	} {
		s := spent{Cost: [len(widths)]float64{9000, 2500, 1700, 1300}}
		s.of(midnight, c.spent)
		require.Equal(t, c.want, s.choose(midnight.Add(c.at), c.budget, c.behind), c.what)
	}
}

// How fast the record is sent after days without signal is as set.
func TestCatchUpRate(t *testing.T) {
	for _, rate := range []float64{20, 600} {
		synctest.Test(t, func(t *testing.T) {
			dir := t.TempDir()
			r := recorded(t, dir, boot{start: noon, minutes: 240, trust: store.Synced})
			defer r.Close()
			opt := options(t, r, dir, handler(newShelf()))
			opt.CatchUp = rate
			s, err := New(opt)
			require.NoError(t, err)
			fromStart(t, s, r)
			begun := time.Now()
			until(t, s, 1, 240)
			require.InDelta(t, 240*60/rate, time.Since(begun).Seconds(), 60*60/rate+2, "to within one message")
		})
	}
}

// In normal times a message is sent for each piece of Every, not more often.
func TestEvery(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		r := openRecorder(t, dir, time.Now(), false)
		defer r.Close()
		to := newShelf()
		opt := options(t, r, dir, handler(to))
		var synced atomic.Int64
		opt.Every, opt.Clock = 5*time.Minute, func() time.Duration { return time.Duration(synced.Load()) }
		s, err := New(opt)
		require.NoError(t, err)
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() { defer close(done); s.Run(ctx) }()
		require.NoError(t, r.NoteClock(store.Observation{Wall: time.Now(), Trust: store.Synced}))
		for range 31 * 60 / 10 {
			r.run(t, 10*time.Second)
			synced.Store(int64(r.t))
			time.Sleep(10 * time.Second)
		}
		cancel()
		<-done
		require.Len(t, to.of(nameFresh), 30)
		require.Equal(t, 6, to.asked, "%v", to.of(nameFresh))
	})
}

// A position that is damaged, or of another record, begins at the present boot
// and never sends a series backwards.
func TestAPositionThatIsNone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		r := recorded(t, dir, days...)
		defer r.Close()
		to := newShelf()
		opt := options(t, r, dir, handler(to))
		require.NoError(t, os.WriteFile(stateFile(dir, opt.URL), []byte("{half a fi"), 0o600))
		s, err := New(opt)
		require.NoError(t, err)
		until(t, s, 4, 30)
		require.Len(t, to.of(nameFresh), 30, "only the present boot")
		life, err := r.Life(t.Context())
		require.NoError(t, err)
		water := to.of(nameWater)
		require.Greater(t, water[0].value, life.WaterM3/3, "counters begin with those of the machine's life")
		require.FileExists(t, stateFile(dir, opt.URL)+".bad")

		other := t.TempDir()
		r2 := recorded(t, other, boot{start: days[3].start.Add(time.Hour), minutes: 6, trust: store.Synced})
		defer r2.Close()
		opt.Record = func() Record { return r2 }
		s, err = New(opt)
		require.NoError(t, err)
		ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
		defer cancel()
		s.Run(ctx)
		require.Len(t, to.of(nameFresh), 36)
		after := to.of(nameWater)
		require.Greater(t, after[len(after)-1].value, water[len(water)-1].value, "a new record's counters go on where the old ones were")
	})
}

// What the record had no room for any more is sent from what is left of it.
func TestThinnedFramesAreSentFromTheirBuckets(t *testing.T) {
	m := &span{from: time.Minute, to: 2 * time.Minute, lost: &store.LostError{From: 0, To: time.Hour, Thinned: true}}
	require.True(t, m.thinned())
	m.lost.Thinned = false
	require.False(t, m.thinned(), "damage leaves a gap")
	m.lost = &store.LostError{From: time.Hour, To: 2 * time.Hour, Thinned: true}
	require.False(t, m.thinned())
	m.lost = nil
	require.False(t, m.thinned())
}
