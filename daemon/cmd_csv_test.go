package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// What is proposed is a config that passes the check and replays the file.
func TestCSVProposesAConfig(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "log.csv")
	require.NoError(t, os.WriteFile(path, []byte("Logger 7\n\nDate,Time,Inlet,Water Temp,Remark\n,,psi,degF,\n"+
		"3/14/2026,1:05:07 PM,40.1,61,\n3/14/2026,1:05:08 PM,40.2,61,\n3/14/2026,1:05:09 PM,40.1,61,\n"), 0o644))
	code, out, errText := typed("csv", path)
	require.Equal(t, exitOK, code, errText)
	require.Contains(t, errText, "log.toml")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "log.toml"), []byte(out), 0o644))

	code, said, errText := typed("check", filepath.Join(dir, "log.toml"))
	require.Equal(t, exitOK, code, said+errText)
	code, said, errText = typed("replay", path)
	require.Equal(t, exitOK, code, said+errText)
	require.Empty(t, errText)

	code, _, errText = typed("csv", filepath.Join(dir, "none.csv"))
	require.Equal(t, exitError, code)
	require.Contains(t, errText, "none.csv")
	require.Equal(t, exitUsage, func() int { c, _, _ := typed("csv"); return c }())
}
