package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestHandbookPrintsWritesAndChecks(t *testing.T) {
	code, page, _ := typed("handbook")
	require.Equal(t, exitOK, code)
	require.Contains(t, page, "# Alarm handbook")
	require.Contains(t, page, "Pump is starving")

	file := filepath.Join(t.TempDir(), "page.md")
	code, _, errText := typed("handbook", "-write", file)
	require.Equal(t, exitOK, code, errText)
	code, out, _ := typed("handbook", "-check", file)
	require.Equal(t, exitOK, code)
	require.Equal(t, file+": current\n", out)

	lines := strings.Split(page, "\n")
	lines[9] += "x"
	for _, c := range []struct{ text, part string }{
		{strings.Join(lines, "\n"), "from line 10 on"}, {page + "more\n", "is not current"}, {"", "from line 1 on"},
	} {
		require.NoError(t, os.WriteFile(file, []byte(c.text), 0o644))
		code, _, errText = typed("handbook", "-check", file)
		require.Equal(t, exitError, code)
		require.Contains(t, errText, c.part)
		require.Contains(t, errText, "headroom handbook -write "+file)
	}
}

func TestHandbookOfAConfig(t *testing.T) {
	file := filepath.Join(t.TempDir(), "mine.toml")
	require.NoError(t, os.WriteFile(file, []byte("[rules.inlet_low]\nact = \"30 kPa\"\nact_delay = \"4 s\"\nlatch = true\n"), 0o644))
	code, page, errText := typed("handbook", "-config", file)
	require.Equal(t, exitOK, code, errText)
	require.Contains(t, page, "30 kPa (4.4 psi) or below, delay 4.0 s (set in this configuration; the default is 1 s")
	require.NoError(t, os.WriteFile(file, []byte("[rules.inlet_low]\nact = 3\n"), 0o644))
	code, _, errText = typed("handbook", "-config", file)
	require.Equal(t, exitError, code)
	require.Contains(t, errText, "mine.toml")
}

func TestHandbookSaysWhatIsWrong(t *testing.T) {
	none := filepath.Join(t.TempDir(), "none", "page.md")
	for _, c := range []struct {
		args []string
		code int
		part string
	}{
		{[]string{"handbook", "-check", none}, exitError, "cannot read the alarm handbook"},
		{[]string{"handbook", "-write", none}, exitError, "cannot write the alarm handbook"},
		{[]string{"handbook", "-config", none}, exitError, "page.md"},
		{[]string{"handbook", "-write", "a", "-check", "b"}, exitUsage, "usage: headroom handbook"},
		{[]string{"handbook", "page"}, exitUsage, "usage: headroom handbook"},
	} {
		code, _, errText := typed(c.args...)
		require.Equal(t, c.code, code, c.args)
		require.Contains(t, errText, c.part)
	}
}
