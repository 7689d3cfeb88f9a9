package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store/brief"
	"headroom/rules/frame"
)

// TestBucketsAgainstTheFrames compares every answer with sums over the frames
// that went in. Spans wider than the kept buckets may be off by one such
// bucket at their edges, so there only spans made of whole ones are compared.
func TestBucketsAgainstTheFrames(t *testing.T) {
	s := open(t, t.TempDir(), Options{SealFrames: 500})
	r := newRig(t)
	ticks := r.take(4230)
	feed(t, s, r, ticks)
	require.NoError(t, s.Sync())
	require.Positive(t, s.Health().PendingFrames)
	for _, c := range []struct {
		name     string
		from, to time.Duration
		n        int
		slack    time.Duration
	}{
		{"from frames", 20 * time.Second, 380 * time.Second, 100, 0},
		{"one span of frames", 30 * time.Second, 50 * time.Second, 1, 0},
		{"from buckets", 30 * time.Second, 330 * time.Second, 5, 30 * time.Second},
		{"beyond the end", 300 * time.Second, 3000 * time.Second, 7, 30 * time.Second},
	} {
		for _, ch := range []frame.Channel{frame.InletPressure, frame.Flow, frame.Vibration} {
			got, err := s.Buckets(ctx, RunID{Boot: 1}, ch, c.from, c.to, c.n)
			require.NoError(t, err)
			require.Len(t, got, c.n)
			require.Equal(t, c.from, got[0].From)
			require.Equal(t, c.to, got[c.n-1].To)
			for i := range got {
				inner := direct(ticks, ch, got[i].From+c.slack, got[i].To-c.slack, i == c.n-1)
				outer := direct(ticks, ch, got[i].From-c.slack, got[i].To+c.slack, i == c.n-1)
				requireBetween(t, c.name, &inner, &outer, &got[i].Stat)
			}
		}
	}
	whole, err := s.Buckets(ctx, RunID{Boot: 1}, frame.Flow, 0, 0, 1)
	require.NoError(t, err)
	all := direct(ticks, frame.Flow, 0, ticks[len(ticks)-1].t, true)
	require.Equal(t, all.Frames, whole[0].Frames)
	for _, n := range []int{0, -1, maxBuckets + 1} {
		_, err = s.Buckets(ctx, RunID{Boot: 1}, frame.Flow, 0, 0, n)
		require.ErrorContains(t, err, "spans")
	}
	none, err := s.Buckets(ctx, RunID{Boot: 5}, frame.Flow, 0, 0, 10)
	require.NoError(t, err)
	require.Empty(t, none)
	require.NoError(t, s.Close())
}

// direct sums the ticks of a span up.
func direct(ticks []*tick, ch frame.Channel, from, to time.Duration, last bool) (s brief.Stat) {
	for _, k := range ticks {
		if k.t >= from && (k.t < to || last && k.t == to) {
			s.AddSample(k.raw.Samples[ch].Value, k.raw.Samples[ch].Status)
		}
	}
	return s
}

// requireBetween holds an answer against the least and the most it may sum up.
func requireBetween(t *testing.T, name string, inner, outer, got *brief.Stat) {
	require.GreaterOrEqual(t, got.Frames, inner.Frames, name)
	require.LessOrEqual(t, got.Frames, outer.Frames, name)
	require.GreaterOrEqual(t, got.OK, inner.OK, name)
	require.LessOrEqual(t, got.OK, outer.OK, name)
	require.Equal(t, inner.Seen, inner.Seen&got.Seen, name)
	if inner.OK == 0 {
		return
	}
	const single = 4e-5 // what packing costs
	require.LessOrEqual(t, got.Min, inner.Min, name)
	require.GreaterOrEqual(t, got.Max, inner.Max, name)
	require.GreaterOrEqual(t, got.Min, outer.Min-single*(1+max(outer.Min, -outer.Min)), name)
	require.LessOrEqual(t, got.Max, outer.Max+single*(1+max(outer.Max, -outer.Max)), name)
	if *inner == *outer {
		require.InEpsilon(t, 1+inner.Mean, 1+got.Mean, single, name)
	}
}

// TestCoarseLevels uses each level of buckets over a long, slow recording.
func TestCoarseLevels(t *testing.T) {
	s := open(t, t.TempDir(), Options{SealFrames: 2000, HoldOff: time.Hour})
	r := newRig(t)
	var ticks []*tick
	for i, k := range r.take(6000) {
		k.t = time.Duration(i+1) * 30 * time.Second // 50 hours
		k.wall = startWall.Add(k.t)
		ticks = append(ticks, k)
	}
	feed(t, s, nil, ticks)
	require.NoError(t, s.Sync())
	end := ticks[len(ticks)-1].t
	for n, width := range map[int]time.Duration{3000: widths[0], 200: widths[1], 10: widths[2]} {
		got, err := s.Buckets(ctx, RunID{Boot: 1}, frame.InletPressure, 0, 0, n)
		require.NoError(t, err)
		frames := int64(0)
		for i := range got {
			frames += got[i].Frames
			inner := direct(ticks, frame.InletPressure, got[i].From+width, got[i].To-width, false)
			outer := direct(ticks, frame.InletPressure, got[i].From-width, got[i].To+width, true)
			requireBetween(t, width.String(), &inner, &outer, &got[i].Stat)
		}
		all := direct(ticks, frame.InletPressure, 0, end, true)
		require.InDelta(t, all.Frames, frames, float64(2*width/(30*time.Second)))
		require.Equal(t, end, got[n-1].To)
	}
	require.NoError(t, s.Close())
}
