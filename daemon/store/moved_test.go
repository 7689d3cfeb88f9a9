package store

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// What is written into files that nobody will find again must not pass for
// recorded: a folder that was removed or renamed, or over which another medium
// was mounted, keeps taking all that is written.
func TestAFolderThatIsTakenAwayIsTold(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "record")
	s := open(t, dir, Options{})
	r := newRig(t)
	ticks := r.take(300)
	feed(t, s, r, ticks[:100])
	require.NoError(t, s.Sync())
	require.NoError(t, os.Rename(dir, dir+"-elsewhere"))
	for _, k := range ticks[100:200] {
		put(t, s, nil, k)
	}
	require.ErrorContains(t, s.Sync(), "was moved or removed")
	_, err := s.Act(Act{T: r.at, What: "note"})
	require.ErrorContains(t, err, "was moved or removed")
	require.NoError(t, os.Mkdir(dir, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, databaseName), []byte("another"), 0o644))
	require.ErrorContains(t, s.Sync(), "was moved or removed", "another file in its place is none of ours")

	require.NoError(t, os.RemoveAll(dir))
	require.NoError(t, os.Rename(dir+"-elsewhere", dir))
	feed(t, s, r, ticks[200:])
	require.NoError(t, s.Sync(), "put back, it is as if nothing had been")
	requireFrames(t, &s.view, 1, ticks)
	require.NoError(t, s.Close())
	s = open(t, dir, Options{})
	requireFrames(t, &s.view, 1, ticks)
	require.NoError(t, s.Close())
}
