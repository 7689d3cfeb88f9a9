package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/daemon/manual"
	"headroom/deploy/testneed"
)

// docs writes the pages and the completions once more, as a package does.
func docs(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	code, _, errText := typed("docs", "-date", "2026-01-31", dir)
	require.Equal(t, exitOK, code, errText)
	return dir
}

func TestEveryCommandDescribesItself(t *testing.T) {
	all := map[string]manual.Command{}
	for _, c := range described() {
		require.NotContains(t, all, c.Name)
		all[c.Name] = c
	}
	for _, c := range commands() {
		require.Contains(t, all, c.name)
		if words, _ := argumentWords(c.args); strings.Contains(c.args, "|...") {
			more, _ := commandWords(c.name, c.args)
			require.Greater(t, len(more), len(words), "%s: its help breaks off, so commandWords must know the rest", c.name)
		}
		if !strings.Contains(c.args, "-") && !strings.Contains(c.args, "flags") {
			continue
		}
		n := 0
		for name, d := range all {
			if name == c.name || strings.HasPrefix(name, c.name+" ") {
				n += len(d.Flags)
			}
		}
		require.NotZero(t, n, "%s names flags in its help and describes none: it must make them with flags", c.name)
	}
	require.Contains(t, all, "advise supply")
	require.Contains(t, all, "record export")
	require.Contains(t, all["calibrate"].Words, "inlet_pressure")
	require.True(t, all["check"].Files)
}

func TestArgumentWords(t *testing.T) {
	for _, c := range []struct {
		args  string
		words string
		files bool
	}{
		{"", "", false},
		{"[flags]", "", false},
		{"[flags] FILE...", "", true},
		{"list|export|journal", "list export journal", false},
		{"list|export|...", "list export", false},
		{"[flags] [done TASK]", "done", false},
		{"-config FILE [-once]", "", false},
		{"[-write FILE | -check FILE]", "", false},
	} {
		words, files := argumentWords(c.args)
		require.Equal(t, c.words, strings.Join(words, " "), c.args)
		require.Equal(t, c.files, files, c.args)
	}
}

func TestPagesNameEverything(t *testing.T) {
	dir := docs(t)
	page, err := os.ReadFile(filepath.Join(dir, "man", "headroom.1"))
	require.NoError(t, err)
	require.Contains(t, string(page), ".TH HEADROOM 1 2026-01-31 ")
	for _, c := range described() {
		require.Contains(t, string(page), `.SS "headroom `+strings.ReplaceAll(c.Name, "-", `\-`))
		for _, f := range c.Flags {
			require.Contains(t, string(page), `\fB\-`+strings.ReplaceAll(f.Name, "-", `\-`)+`\fR`, c.Name)
		}
	}
	settings, err := os.ReadFile(filepath.Join(dir, "man", "headroom.toml.5"))
	require.NoError(t, err)
	for _, s := range config.Schema() {
		require.Contains(t, string(settings), s.Name)
		for i := range s.Keys {
			require.Contains(t, string(settings), s.Keys[i].Name, s.Name)
		}
	}
}

// TestPagesAreClean holds the pages against the two formatters that Debian has.
func TestPagesAreClean(t *testing.T) {
	dir := docs(t)
	mandoc := testneed.Program(t, "mandoc", "mandoc")
	groff := testneed.Program(t, "groff", "groff")
	for _, page := range []string{"headroom.1", "headroom.toml.5"} {
		path := filepath.Join(dir, "man", page)
		out, err := exec.Command(mandoc, "-T", "lint", path).CombinedOutput()
		require.NoError(t, err, "%s", out)
		require.Empty(t, string(out))
		out, err = exec.Command(groff, "-ww", "-man", "-Tutf8", "-z", path).CombinedOutput()
		require.NoError(t, err, "%s", out)
		require.Empty(t, string(out))
	}
}

func TestDocsSayWhatIsWrong(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	for _, c := range []struct {
		args []string
		code int
		part string
	}{
		{[]string{"docs"}, exitUsage, "usage: headroom docs"},
		{[]string{"docs", "-date", "yesterday", t.TempDir()}, exitError, "write it as 2026-01-31"},
		{[]string{"docs", file}, exitError, "cannot write the manual"},
	} {
		code, _, errText := typed(c.args...)
		require.Equal(t, c.code, code, c.args)
		require.Contains(t, errText, c.part)
	}
}

func TestPagesAreTheSameForTheSameProgram(t *testing.T) {
	p := &manual.Program{Version: "1", Date: time.Unix(0, 0), Commands: described()}
	for _, write := range []func() string{p.CommandsPage, p.Bash, p.Zsh, p.Fish} {
		require.Equal(t, write(), write())
	}
}
