package store

import (
	"database/sql"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// TestALostSecondIsStatedWithItsInterval damages one second inside of a batch,
// as a fault of the memory might.
func TestALostSecondIsStatedWithItsInterval(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	r := newRig(t)
	ticks := r.take(50)
	feed(t, s, r, ticks)
	list := s.pendingList()
	require.Greater(t, len(list), 3)
	b := &batch{boot: s.boot}
	for i := range list {
		require.NoError(t, b.add(list[i].payload))
	}
	b.blocks[2] = append([]byte(nil), b.blocks[2]...)
	b.blocks[2][len(b.blocks[2])/2] ^= 1
	require.NoError(t, inTx(ctx, s.w, func(tx *sql.Tx) (err error) {
		s.seal.link, err = newLinker(ctx, tx)
		require.NoError(t, err)
		return s.seal.one(ctx, tx, b)
	}))
	require.Len(t, s.seal.problems, 1)
	all, err := s.Deletions(ctx)
	require.NoError(t, err)
	require.Len(t, all, 1)
	d := all[0]
	require.Equal(t, DeletedByDamage, d.What)
	require.EqualValues(t, 1, d.Boot)
	lost := 0
	given := map[time.Duration]bool{}
	for k, err := range s.Frames(ctx, RunID{Boot: 1}, 0, 0) {
		require.NoError(t, err)
		given[k.T] = true
	}
	for _, k := range ticks {
		if !given[k.t] {
			require.True(t, d.From < k.t && k.t < d.To, "%v is not between %v and %v", k.t, d.From, d.To)
			lost++
		}
	}
	require.Positive(t, lost)
	require.Less(t, d.To-d.From, 3*time.Second)
	require.NoError(t, s.ring.Close())
	require.NoError(t, s.db.Close())
	require.NoError(t, s.w.Close())
	require.True(t, verified(t, dir).OK())
}
