package remote

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/store"
)

// Whatever the clock does, stamps only go forward; and where it does nothing
// bad they are the record's own wall times.
func TestStampsGoForward(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var notes []store.Observation
		at := noon
		for i := range rapid.IntRange(1, 5).Draw(t, "notes") {
			at = at.Add(time.Duration(rapid.Int64Range(-1e13, 1e13).Draw(t, "jump")))
			notes = append(notes, store.Observation{T: time.Duration(i) * 10 * time.Minute, Wall: at, Trust: store.Trust(rapid.IntRange(0, 2).Draw(t, "trust"))})
		}
		p := place{Stamp: rapid.Int64Range(0, noon.UnixMilli()+1e7).Draw(t, "before")}
		s := stamper{notes, &p}
		last, d := p.Stamp, time.Duration(0)
		for range 100 {
			d += time.Duration(rapid.Int64Range(int64(time.Millisecond), int64(time.Minute)).Draw(t, "step"))
			ms := s.ms(d)
			require.Greater(t, ms, last)
			require.Equal(t, ms, s.ms(d), "one moment has one time")
			last = ms
		}
	})
}

func TestAClockThatRanAheadIsWaitedFor(t *testing.T) {
	p := place{}
	s := stamper{[]store.Observation{
		{T: 0, Wall: noon.Add(time.Hour), Trust: store.ByPerson},
	}, &p}
	require.Equal(t, noon.Add(time.Hour+time.Minute).UnixMilli(), s.ms(time.Minute))
	s.notes = append(s.notes, store.Observation{T: 2 * time.Minute, Wall: noon.Add(2 * time.Minute), Trust: store.Synced})
	require.Equal(t, noon.Add(time.Hour+90*time.Second).UnixMilli(), s.ms(2*time.Minute), "at half its pace")
	for d := 3 * time.Minute; d < 3*time.Hour; d += time.Minute {
		s.ms(d)
	}
	require.Equal(t, noon.Add(3*time.Hour).UnixMilli(), s.ms(3*time.Hour), "until it is right again")
}

// The times are those that the record itself tells.
func TestTimesAreThoseOfTheRecord(t *testing.T) {
	r := recorded(t, t.TempDir(), boot{start: noon, minutes: 4, trust: store.Seen})
	defer r.Close()
	rnd := []store.Observation{
		{T: time.Minute, Wall: noon.Add(5 * time.Minute), Trust: store.ByPerson}, {T: 2 * time.Minute, Wall: noon.Add(9 * time.Minute), Trust: store.Synced},
		{T: 3 * time.Minute, Wall: noon.Add(7 * time.Minute), Trust: store.Synced}, {T: 150 * time.Second, Wall: noon.Add(8 * time.Minute), Trust: store.Seen},
	}
	for i := range rnd {
		notes, err := r.Observations(t.Context(), 1)
		require.NoError(t, err)
		for d := time.Second; d < 5*time.Minute; d += 7 * time.Second {
			want, ok, err := r.WallAt(t.Context(), 1, d)
			require.NoError(t, err)
			require.True(t, ok)
			require.Equal(t, want.UnixMilli(), wallOf(notes, d))
		}
		require.NoError(t, r.NoteClock(rnd[i]))
	}
	require.Zero(t, wallOf(nil, time.Minute))
}

// Nothing is sent while nobody vouches for the clock; then all of it is, the
// hours before that in their right place.
func TestSendingWaitsForATrustedClock(t *testing.T) {
	for _, anyClock := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			dir := t.TempDir()
			wrong := noon.Add(-40 * 24 * time.Hour)
			r := recorded(t, dir, boot{start: wrong, minutes: 10}, boot{start: wrong.Add(20 * time.Minute), minutes: 10})
			defer r.Close()
			to := newShelf()
			opt := options(t, r, dir, handler(to))
			opt.AnyClock = anyClock
			s, err := New(opt)
			require.NoError(t, err)
			fromStart(t, s, r)
			ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
			s.Run(ctx)
			cancel()
			if anyClock {
				require.Greater(t, to.samples(), 500)
				return
			}
			require.Zero(t, to.samples())
			require.True(t, s.Stats().Holding)
			require.NoError(t, r.NoteClock(store.Observation{T: r.t, Wall: noon, Trust: store.Synced}))
			until(t, s, 2, 10)
			require.False(t, s.Stats().Holding)
			fresh := to.of(nameFresh)
			require.Len(t, fresh, 11+10)
			require.Equal(t, noon.Add(10*time.Minute-r.t).UnixMilli(), fresh[20].ms, "the second boot by the trusted clock")
			require.Equal(t, wrong.Add(time.Minute).UnixMilli(), fresh[0].ms, "the first as the clock said: nobody will know better")
		})
	}
}
