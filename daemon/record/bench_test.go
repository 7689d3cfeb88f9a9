package record

import (
	"bytes"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

// BenchmarkAppend is one tick into the recorder's memory, without the disk.
func BenchmarkAppend(b *testing.B) {
	r, err := Open(b.TempDir(), Options{})
	require.NoError(b, err)
	k := newRig(b).next()
	b.ReportAllocs()
	for b.Loop() {
		k.t++
		if err := r.Append(k.t, k.wall, &k.raw, k.v); err != nil {
			r.rows = r.rows[:0] // full: forget, as the disk isn't meant
		}
	}
	b.SetBytes(int64(len(r.enc.AppendRow(nil, k.t, k.wall, &k.raw))))
}

// BenchmarkSyncSecond is what a second of ten ticks costs with the disk of the
// machine at hand.
func BenchmarkSyncSecond(b *testing.B) {
	r, err := Open(b.TempDir(), Options{})
	require.NoError(b, err)
	g := newRig(b)
	for b.Loop() {
		for range 10 {
			k := g.next()
			require.NoError(b, r.Append(k.t, k.wall, &k.raw, k.v))
		}
		require.NoError(b, r.Sync())
	}
}

// BenchmarkPut is what the tick itself pays.
func BenchmarkPut(b *testing.B) {
	q := NewQueue(DefaultPlaces)
	k := newRig(b).next()
	b.ReportAllocs()
	for b.Loop() {
		k.put(q)
		q.pop()
	}
}

func BenchmarkExport(b *testing.B) {
	dir := b.TempDir()
	r, err := Open(dir, Options{})
	require.NoError(b, err)
	g := newRig(b)
	for range 20_000 {
		k := g.next()
		require.NoError(b, k.appendTo(r))
	}
	require.NoError(b, r.Close())
	for b.Loop() {
		_, err := Export(io.Discard, dir, 1, 0, 0)
		require.NoError(b, err)
	}
}

// BenchmarkReplay reads an exported run and judges it anew: its rows a second,
// against the ten that a live machine makes, are how fast a failure can be
// looked through.
func BenchmarkReplay(b *testing.B) {
	ticks := live(5000)
	var text bytes.Buffer
	w, err := csvfile.NewWriter(&text, replayed, csvfile.About{})
	require.NoError(b, err)
	for i := range ticks {
		require.NoError(b, w.Write(ticks[i].t, ticks[i].wall, &ticks[i].raw))
	}
	require.NoError(b, w.Flush())
	e, err := engine.New(jetter())
	require.NoError(b, err)
	for b.Loop() {
		r, err := csvfile.NewReader(bytes.NewReader(text.Bytes()), "bench", csvfile.Map{}, csvfile.Options{})
		require.NoError(b, err)
		var s engine.State
		var f frame.Frame
		for {
			at, _, err := r.Next(&f)
			if err != nil {
				break
			}
			e.Step(&s, &f, at)
		}
		require.EqualValues(b, len(ticks), r.Stats().Rows)
	}
	b.ReportMetric(float64(b.N*len(ticks))/b.Elapsed().Seconds(), "rows/s")
}
