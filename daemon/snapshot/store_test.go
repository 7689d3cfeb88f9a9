package snapshot_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/snapshot"
)

// A reader gets what it asks for and in order, however often the ring has gone
// round.
func TestPointsAreTheNewestInOrder(t *testing.T) {
	for _, n := range []uint64{0, 1, 5999, 6000, 6001, 15000} {
		st := snapshot.NewStore()
		for i := uint64(1); i <= n; i++ {
			st.Publish(&snapshot.Snapshot{Seq: i, Mono: time.Duration(i) * 100 * time.Millisecond})
		}
		kept := min(n, 6000)
		for _, c := range []struct {
			what string
			got  []snapshot.Point
			want uint64
		}{
			{"a second", st.Points(time.Second), min(n, 11)},
			{"all", st.Points(time.Hour), kept},
			{"none newer", st.PointsAfter(n), 0},
			{"three newer", st.PointsAfter(max(n, 3) - 3), min(n, 3)},
			{"from the start", st.PointsAfter(0), kept},
		} {
			require.Len(t, c.got, int(c.want), "%s of %d", c.what, n)
			for i := range c.got {
				require.Equal(t, n-c.want+uint64(i)+1, c.got[i].Seq, "%s of %d", c.what, n)
			}
		}
	}
}
