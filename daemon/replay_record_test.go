package main

import (
	"context"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// TestReplayFromTheRecord records the demo and runs it again by its number.
func TestReplayFromTheRecord(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "record")
	ctx, cancel := context.WithTimeout(t.Context(), 4*time.Second)
	defer cancel()
	job := write(t, "restless.toml", restless())
	var out, errs strings.Builder
	code := run(ctx, []string{"run", "-record", folder, "-listen", "127.0.0.1:0", "-speed", "20", "-scenario", job},
		stdio{strings.NewReader(""), &out, &errs})
	require.Equal(t, exitOK, code, errs.String())

	code, text, said := call(t, "replay", "-record", folder, "-digest")
	require.Equal(t, exitOK, code, said)
	require.Contains(t, text, "boot 1\n")
	require.Contains(t, text, "Pump is starving")
	require.Empty(t, said, "nothing is lost, and it is the same version")
	_, again, _ := call(t, "replay", "-record", folder, "-run", "1", "-digest")
	require.Equal(t, text, again)

	code, lines, said := call(t, "replay", "-record", folder, "-run", "1.1", "-json")
	require.Equal(t, exitOK, code, said)
	last := lines[strings.LastIndex(strings.TrimSpace(lines), "\n")+1:]
	var sum map[string]any
	require.NoError(t, json.Unmarshal([]byte(last), &sum))
	require.Equal(t, "summary", sum["type"])
	require.Equal(t, "run 1.1", sum["file"])

	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"-run", "7"}, "the record holds no boot 7"},
		{[]string{"-run", "1.9"}, "no such run"},
		{[]string{"-run", "x"}, "names no run"},
		{[]string{"-run", "1", "recording.csv"}, "usage: headroom replay"},
	} {
		code, _, said := call(t, append([]string{"replay", "-record", folder}, c.args...)...)
		require.NotEqual(t, exitOK, code)
		require.Contains(t, said, c.want)
	}
	code, _, said = call(t, "replay", "-record", filepath.Join(folder, "nothing"))
	require.Equal(t, exitError, code)
	require.Contains(t, said, "name another folder with -record")
}
