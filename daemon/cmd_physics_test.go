package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// typed runs one command line in memory.
func typed(args ...string) (code int, out, errText string) {
	var o, e bytes.Buffer
	code = run(context.Background(), args, stdio{strings.NewReader(""), &o, &e})
	return code, o.String(), e.String()
}

func TestPhysicsPrintsWritesAndChecks(t *testing.T) {
	code, page, _ := typed("physics")
	require.Equal(t, exitOK, code)
	require.Contains(t, page, "## Summary")

	file := filepath.Join(t.TempDir(), "page.md")
	code, _, errText := typed("physics", "-write", file)
	require.Equal(t, exitOK, code, errText)
	code, out, _ := typed("physics", "-check", file)
	require.Equal(t, exitOK, code)
	require.Equal(t, file+": current\n", out)

	lines := strings.Split(page, "\n")
	lines[9] += "x"
	for _, c := range []struct{ text, part string }{
		{strings.Join(lines, "\n"), "from line 10 on"},
		{page + "more\n", "is not current"},
		{"", "from line 1 on"},
	} {
		require.NoError(t, os.WriteFile(file, []byte(c.text), 0o644))
		code, _, errText = typed("physics", "-check", file)
		require.Equal(t, exitError, code)
		require.Contains(t, errText, c.part)
		require.Contains(t, errText, "headroom physics -write "+file)
	}
}

func TestPhysicsSaysWhatIsWrong(t *testing.T) {
	none := filepath.Join(t.TempDir(), "none", "page.md")
	for _, c := range []struct {
		args []string
		code int
		part string
	}{
		{[]string{"physics", "-check", none}, exitError, "cannot read the physics page"},
		{[]string{"physics", "-write", none}, exitError, "cannot write the physics page"},
		{[]string{"physics", "-write", "a", "-check", "b"}, exitUsage, "usage: headroom physics"},
		{[]string{"physics", "page"}, exitUsage, "usage: headroom physics"},
	} {
		code, _, errText := typed(c.args...)
		require.Equal(t, c.code, code, c.args)
		require.Contains(t, errText, c.part)
	}
}
