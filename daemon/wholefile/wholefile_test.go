package wholefile_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/wholefile"
)

func TestReplacesAndLeavesNothingBehind(t *testing.T) {
	path := filepath.Join(t.TempDir(), "new", "book.json")
	require.NoError(t, wholefile.Write(path, []byte("one")))
	require.NoError(t, wholefile.Write(path, []byte("two")))
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, "two", string(data))
	left, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	require.Len(t, left, 1)
}

func TestOldFileSurvivesAFailure(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "book.json")
	require.NoError(t, os.Mkdir(path, 0o755)) // a folder stands in the way
	require.ErrorContains(t, wholefile.Write(path, []byte("x")), "cannot put the new file in place")
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, left, 1)
}
