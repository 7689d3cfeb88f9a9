package main

import (
	"compress/gzip"
	"crypto/sha256"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/deploy/testneed"
)

// repository makes one with a commit at a known time.
func repository(t *testing.T) (dir string, do func(args ...string)) {
	t.Helper()
	testneed.Program(t, "git", "git")
	dir = t.TempDir()
	do = func(args ...string) {
		t.Helper()
		cmd := exec.Command("git", append([]string{"-C", dir, "-c", "user.name=x", "-c", "user.email=x@example.invalid"}, args...)...)
		cmd.Env = append(os.Environ(), "GIT_CONFIG_GLOBAL=/dev/null", "GIT_COMMITTER_DATE=2026-03-01T10:00:00Z", "GIT_AUTHOR_DATE=2026-03-01T10:00:00Z")
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, "%s", out)
	}
	do("init", "-q")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a"), []byte("1"), 0o644))
	do("add", "a")
	do("commit", "-q", "-m", "first")
	return dir, do
}

func TestVersionFromGit(t *testing.T) {
	t.Setenv(epochVariable, "")
	dir, do := repository(t)
	find := func() *source {
		s, err := findSource(t.Context(), dir, "")
		require.NoError(t, err)
		return s
	}
	s := find()
	require.Regexp(t, `^0\.0\+20260301100000\.g[0-9a-f]{12}$`, s.version)
	require.Equal(t, time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC), s.date)
	do("tag", "v1.2.3")
	require.Equal(t, "1.2.3", find().version)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a"), []byte("2"), 0o644))
	require.Equal(t, "1.2.3+changed", find().version)
	do("commit", "-q", "-a", "-m", "second")
	require.Regexp(t, `^1\.2\.3\+20260301100000\.g`, find().version)
}

// TestVersionsSort: a later commit is newer than its tag and older than the
// next one, for dpkg, whose order decides what a downgrade is.
func TestVersionsSort(t *testing.T) {
	dpkg := testneed.Program(t, "dpkg", "dpkg")
	order := []string{"0.0+20260301100000.gffff", "0.0+20260301100001.g0000", "1.2.3", "1.2.3+20260301100000.g1111", "1.2.4", "1.10"}
	for i := 1; i < len(order); i++ {
		require.NoError(t, exec.Command(dpkg, "--compare-versions", order[i-1], "lt", order[i]).Run(), "%s before %s", order[i-1], order[i])
	}
}

func TestSourceSaysWhatIsMissing(t *testing.T) {
	t.Setenv(epochVariable, "")
	_, err := findSource(t.Context(), t.TempDir(), "")
	require.ErrorContains(t, err, "give it in SOURCE_DATE_EPOCH")
	t.Setenv(epochVariable, "1772359200")
	_, err = findSource(t.Context(), t.TempDir(), "")
	require.ErrorContains(t, err, "give it with -version")
	for _, bad := range []string{"v1", "1.0-1", "1:1", "1 0", "1/0"} {
		_, err = findSource(t.Context(), t.TempDir(), bad)
		require.ErrorContains(t, err, "is no version", bad)
	}
	t.Setenv(epochVariable, "soon")
	_, err = findSource(t.Context(), t.TempDir(), "1")
	require.ErrorContains(t, err, "no number of seconds")
	require.ErrorContains(t, run(t.Context(), []string{"-arch", "z80"}), "choose arm64, armhf, amd64 or all")
}

// TestPackingIsReproducible: the same files, put in at another time, in another
// folder and under another umask, are the same bytes.
func TestPackingIsReproducible(t *testing.T) {
	testneed.Program(t, "dpkg", "dpkg-deb")
	made := func(perm os.FileMode) [32]byte {
		dir := t.TempDir()
		tr := &tree{root: filepath.Join(dir, "tree"), when: time.Unix(1772359200, 0)}
		require.NoError(t, os.Mkdir(tr.root, perm))
		require.NoError(t, tr.file("usr/bin/headroom", 0o755, []byte("#!/bin/sh\n")))
		require.NoError(t, tr.file(conffile, 0o644, nil))
		require.NoError(t, tr.zipped("usr/share/doc/headroom/changelog", []byte("text")))
		require.NoError(t, tr.control(&source{version: "1"}, architectures[0]))
		out := filepath.Join(dir, "x.deb")
		require.NoError(t, tr.pack(t.Context(), out))
		text, err := os.ReadFile(out)
		require.NoError(t, err)
		return sha256.Sum256(text)
	}
	first := made(0o755)
	time.Sleep(1100 * time.Millisecond) // the times in an archive are whole seconds
	require.Equal(t, first, made(0o700))
}

func TestScriptsAreSh(t *testing.T) {
	sh := testneed.Program(t, "dash", "dash", "sh")
	for _, name := range []string{"preinst", "postinst", "prerm", "postrm"} {
		out, err := exec.Command(sh, "-n", filepath.Join("debian", name)).CombinedOutput()
		require.NoError(t, err, "%s", out)
	}
}

// TestZippedGivesBack: what is compressed comes back as it was.
func TestZippedGivesBack(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(r *rapid.T) {
		text := rapid.SliceOf(rapid.Byte()).Draw(r, "text")
		tr := &tree{root: dir}
		require.NoError(r, tr.zipped("x", text))
		f, err := os.Open(filepath.Join(dir, "x.gz"))
		require.NoError(r, err)
		defer f.Close()
		z, err := gzip.NewReader(f)
		require.NoError(r, err)
		require.True(r, z.ModTime.IsZero())
		got, err := io.ReadAll(z)
		require.NoError(r, err)
		require.Equal(r, string(text), string(got))
	})
}

func TestLibrariesNeedTerms(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "in", "ner"), 0o755))
	found := map[string]string{}
	require.NoError(t, termsOf(dir, filepath.Join(dir, "in", "ner"), found))
	_, err := concatenated(map[string]map[string]string{"example.com/x v1": found})
	require.ErrorContains(t, err, "example.com/x v1 has no licence")
	for _, name := range []string{"LICENSE", "license.go", "in/NOTICE.txt", "in/ner/COPYING-2", "notes"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte("terms"), 0o644))
	}
	require.NoError(t, termsOf(dir, filepath.Join(dir, "in", "ner"), found))
	require.Equal(t, "LICENSE in/NOTICE.txt in/ner/COPYING-2", strings.Join(sortedKeys(found), " "))
}
