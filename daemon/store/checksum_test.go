package store

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// A damaged checksum keeps a block from its reader though the block is whole.
// The chain doesn't cover that number: the verification must tell all the same.
func TestADamagedChecksumIsToldByTheVerification(t *testing.T) {
	dir := t.TempDir()
	r := newRig(t)
	s := open(t, dir, Options{SealFrames: 250})
	feed(t, s, r, r.take(1000))
	v, err := s.VerifyChain(ctx)
	require.NoError(t, err)
	require.Empty(t, v.Breaks)
	db, err := openDatabase(filepath.Join(dir, databaseName), false)
	require.NoError(t, err)
	defer db.Close()
	for _, damage := range []string{"sum + 1", "'x'"} {
		_, err = db.ExecContext(ctx, "UPDATE block SET sum = "+damage+" WHERE id = (SELECT min(id) FROM block)")
		require.NoError(t, err)
		v, err = s.VerifyChain(ctx)
		require.NoError(t, err)
		require.Len(t, v.Breaks, 1, damage)
		require.Contains(t, v.Breaks[0].Why, "their checksum is damaged")
		require.Less(t, v.Breaks[0].From, v.Breaks[0].To)
	}
}
