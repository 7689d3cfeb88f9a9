package remote

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store"
)

// BenchmarkCollect reads, judges and sums up an hour of the record, one frame a
// second, and packs it for the wire.
func BenchmarkCollect(b *testing.B) {
	r := recorded(b, b.TempDir(), boot{start: noon, minutes: 60, trust: store.Synced})
	defer r.Close()
	s, err := New(options(b, r, b.TempDir(), nil))
	require.NoError(b, err)
	begin(b, s, r)
	for b.Loop() {
		s.walk = nil
		got, after, err := s.collect(b.Context(), r)
		if err != nil || after.Minute < 30 {
			b.Fatal(err)
		}
		if _, err := pack(got.all); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(time.Duration(3600*b.N))/b.Elapsed().Seconds(), "frames/s")
}
