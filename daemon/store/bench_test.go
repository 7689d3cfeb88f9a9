package store

import (
	"database/sql"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store/brief"
	"headroom/daemon/store/seriestest"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// BenchmarkAppend is one tick into memory, without the disk.
func BenchmarkAppend(b *testing.B) {
	s := open(b, b.TempDir(), Options{})
	k := newRig(b).next()
	b.ReportAllocs()
	for b.Loop() {
		k.t += time.Millisecond
		k.wall = k.wall.Add(time.Millisecond)
		if s.Append(k.t, k.wall, &k.raw, &k.v) != nil {
			s.fresh.reset() // full: forget, as the disk isn't meant
		}
	}
}

// BenchmarkSyncSecond is a second of ten ticks with the disk at hand.
func BenchmarkSyncSecond(b *testing.B) {
	s := open(b, b.TempDir(), Options{TailBytes: defaultTailBytes})
	r := newRig(b)
	for b.Loop() {
		b.StopTimer()
		ticks := r.take(10)
		b.StartTimer()
		for _, k := range ticks {
			require.NoError(b, s.Append(k.t, k.wall, &k.raw, &k.v))
		}
		require.NoError(b, s.Sync())
	}
	require.NoError(b, s.Close())
}

// benchHours is the length of the run that is read.
const benchHours = 2

func recorded(b *testing.B) (dir string) {
	dir = b.TempDir()
	s := open(b, dir, Options{})
	v := engine.Verdicts{Machine: machine.Running}
	for i, f := range seriestest.Demo(b, benchHours*36_000) {
		at := time.Duration(i+1) * seriestest.Tick
		require.NoError(b, s.Append(at, startWall.Add(at), &f, &v))
		if i%1000 == 999 {
			require.NoError(b, s.Sync())
		}
	}
	require.NoError(b, s.Close())
	return dir
}

// BenchmarkFrames reads a run back; ten frames are a second of it.
func BenchmarkFrames(b *testing.B) {
	rd, err := OpenReader(recorded(b))
	require.NoError(b, err)
	frames := 0
	for b.Loop() {
		for _, err := range rd.Frames(ctx, RunID{1, 1}, 0, 0) {
			require.NoError(b, err)
			frames++
		}
	}
	b.ReportMetric(float64(frames)/10/b.Elapsed().Seconds(), "x-real-time")
	require.NoError(b, rd.Close())
}

// BenchmarkBuckets asks for a chart of the whole run, and of ten minutes.
func BenchmarkBuckets(b *testing.B) {
	rd, err := OpenReader(recorded(b))
	require.NoError(b, err)
	for name, to := range map[string]time.Duration{"run in 200": 0, "ten minutes in 1000": 10 * time.Minute} {
		n := 1000
		if to == 0 {
			n = 200
		}
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				_, err := rd.Buckets(ctx, RunID{1, 1}, frame.InletPressure, 0, to, n)
				require.NoError(b, err)
			}
		})
	}
	require.NoError(b, rd.Close())
}

// BenchmarkYear draws one channel over a year without a stop, in 1000 spans.
func BenchmarkYear(b *testing.B) {
	dir := b.TempDir()
	s := open(b, dir, Options{})
	const year = 365 * 24 * time.Hour
	require.NoError(b, inTx(ctx, s.w, func(tx *sql.Tx) error {
		for t := time.Duration(0); t < year; t += defaultSealEvery {
			if _, err := tx.Exec("INSERT INTO block (boot, t0, t1, frames, channels, run, incident, bytes, sum) VALUES (7, ?, ?, 18000, 255, 1, 0, 0, 0)", int64(t), int64(t+defaultSealEvery)-1); err != nil {
				return err
			}
		}
		var one brief.Bucket
		for _, ch := range fitted {
			one.Channels[ch] = brief.Stat{Frames: 144_000, OK: 144_000, Seen: 2, Min: 1, Max: 3, Mean: 2}
		}
		for i := range int64(year / widths[2]) {
			one.Index = i
			if _, err := tx.Exec("INSERT INTO bucket VALUES (2, 7, ?, ?)", i, brief.Append(nil, []brief.Bucket{one})); err != nil {
				return err
			}
		}
		return nil
	}))
	require.NoError(b, s.Close())
	for b.Loop() {
		rd, err := OpenReader(dir)
		require.NoError(b, err)
		got, err := rd.Buckets(ctx, RunID{Boot: 7}, frame.InletPressure, 0, 0, 1000)
		require.NoError(b, err)
		require.Positive(b, got[999].Frames)
		require.NoError(b, rd.Close())
	}
}
