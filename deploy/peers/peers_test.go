package peers

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store/seriestest"
	"headroom/rules/frame"
)

// hoursSetting is for how many hours of the noisy series sizes and reading are
// measured: 8 channels, ten frames a second.
const hoursSetting = "HEADROOM_PEERS_HOURS"

const framesAnHour = 36_000

// BenchmarkPeers writes the series once into each store, and then reads it.
// The figures are metrics of each line: bytes for a sample in its final form,
// with time stamps, statuses (ours only), indices and buckets; the time to
// write a frame; and the time to open the store anew and sum one channel up in
// 1000 buckets, the best of five, pages in the system's cache.
func BenchmarkPeers(b *testing.B) {
	hours := setting(hoursSetting, 10)
	b.Chdir("../..") // where the project finds ../shared
	fs := seriestest.Pump(b, hours*framesAnHour)
	channels := channelsOf(fs)
	require.Len(b, channels, 8)
	greatest := map[string]float64{}
	for i := range peers {
		p := &peers[i]
		dir := b.TempDir()
		b.Run("write/"+p.name, func(b *testing.B) {
			for b.Loop() {
				if b.N > 1 { // once is enough: it takes seconds
					b.Skip("write once: -benchtime 1x")
				}
				w := p.open(b, dir, channels)
				fill(b, w, fs)
				require.NoError(b, w.Close())
			}
			b.ReportMetric(float64(p.bytes(b, dir))/float64(len(fs)*len(channels)), "B/sample")
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(len(fs)), "µs/frame")
			b.ReportMetric(0, "ns/op")
		})
	}
	for i := range peers {
		p := &peers[i]
		dir := b.TempDir()
		w := p.open(b, dir, channels)
		fill(b, w, fs)
		require.NoError(b, w.Close())
		b.Run("read1000/"+p.name, func(b *testing.B) {
			best := time.Hour
			for b.Loop() {
				for range 5 {
					begin := time.Now()
					greatest[p.name] = p.read(b, dir, frame.OutletPressure, len(fs), 1000)
					best = min(best, time.Since(begin))
				}
			}
			b.ReportMetric(float64(best.Microseconds())/1e3, "ms/read")
			b.ReportMetric(0, "ns/op")
		})
	}
	for name, v := range greatest {
		require.InEpsilon(b, greatest["sqlite-rows"], v, 1e-4, "%s reads something else", name)
	}
}
