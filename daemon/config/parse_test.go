package config

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

// render lists problems as the golden files do.
func render(problems []Problem) string {
	var b strings.Builder
	for _, p := range problems {
		b.WriteString(p.String() + "\n")
	}
	return b.String()
}

func corpus(t *testing.T, kind string) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(testneed.Root(t), "testdata", "config", kind, "*.toml"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	return files
}

// TestBadCorpus: one file per defect, named after it, with all that Parse says
// of it beside it. The wanted lines were read by hand against the file.
func TestBadCorpus(t *testing.T) {
	for _, file := range corpus(t, "bad") {
		name := filepath.Base(file)
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(file)
			require.NoError(t, err)
			_, problems := Parse(name, data)
			got, golden := render(problems), strings.TrimSuffix(file, ".toml")+".want"
			if *update {
				require.NoError(t, os.WriteFile(golden, []byte(got), 0o644))
			}
			want, err := os.ReadFile(golden)
			require.NoError(t, err)
			require.Equal(t, string(want), got)
			require.NotEmpty(t, problems, "a bad file without a problem")
			if !strings.HasPrefix(name, "note-") {
				require.NotEmpty(t, Mistakes(problems))
			}
		})
	}
}

func TestGoodCorpus(t *testing.T) {
	for _, file := range corpus(t, "good") {
		t.Run(filepath.Base(file), func(t *testing.T) {
			cfg, err := Load(file)
			require.NoError(t, err)
			require.NoError(t, cfg.Engine.Validate())
			data, err := os.ReadFile(file)
			require.NoError(t, err)
			_, problems := Parse(file, data)
			require.Empty(t, problems)
		})
	}
}

func TestTenMistakesAtOnce(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(testneed.Root(t), "testdata", "config", "bad", "ten-mistakes.toml"))
	require.NoError(t, err)
	_, problems := Parse("ten-mistakes.toml", data)
	lines := map[int]bool{}
	for _, p := range Mistakes(problems) {
		lines[p.Line] = true
	}
	require.Len(t, lines, 10, "each of the ten marked lines is told of")
	for i, line := range strings.Split(string(data), "\n") {
		require.Equal(t, strings.Contains(line, "# mistake"), lines[i+1], "line %d: %s", i+1, line)
	}
}

func TestLoadNamesEveryMistake(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.toml")
	require.NoError(t, os.WriteFile(path, []byte("[machine]\nrated_sped = 1\naltitude = 3\n"), 0o644))
	_, err := Load(path)
	var e *Error
	require.ErrorAs(t, err, &e)
	require.Len(t, e.Problems, 2)
	require.ErrorContains(t, err, path+": 2 mistakes")
	require.ErrorContains(t, err, path+":2:1: machine.rated_sped: unknown key; did you mean machine.rated_speed?")
	require.ErrorContains(t, err, path+":3:12: machine.altitude: 3 has no unit")

	_, err = Load(filepath.Join(t.TempDir(), "none.toml"))
	require.ErrorIs(t, err, os.ErrNotExist)
}

func TestTooLargeIsRefused(t *testing.T) {
	cfg, problems := Parse("x", bytes.Repeat([]byte("#"), maxFile+1))
	require.Len(t, Mistakes(problems), 1)
	require.Equal(t, Default().Engine, cfg.Engine)
}

func TestTooManyMistakesAreCounted(t *testing.T) {
	var b strings.Builder
	for i := range 1000 {
		fmt.Fprintf(&b, "wrong%d = 1\n", i)
	}
	_, problems := Parse("x", []byte(b.String()))
	require.Len(t, problems, maxProblems+1)
	require.Contains(t, problems[0].Message, "has more than 200 mistakes")
}

func TestHashIsOfTheBytes(t *testing.T) {
	a, _ := Parse("a", []byte("# one"))
	b, _ := Parse("b", []byte("# one"))
	c, _ := Parse("a", []byte("# two"))
	require.Equal(t, a.Hash, b.Hash)
	require.NotEqual(t, a.Hash, c.Hash)
}

func TestByteOrderMarkIsNoMistake(t *testing.T) {
	_, problems := Parse("x", []byte("\uFEFF[machine]\r\nname = \"x\"\r\n"))
	require.Empty(t, problems)
}

func TestBlankNameIsAMistake(t *testing.T) {
	for _, blank := range []string{"", " "} {
		_, problems := Parse("x", []byte("[machine]\nname = \""+blank+"\"\n"))
		require.Len(t, Mistakes(problems), 1)
		require.Equal(t, "is empty", problems[0].Message)
	}
}

// A name is printed on terminals, in lists and in the heads of files.
func TestTextOfSeveralLinesIsAMistake(t *testing.T) {
	for _, odd := range []string{`a\nb`, `a\u001b[31mb`, `a\u0000`, `a\r`} {
		_, problems := Parse("x", []byte("[machine]\nname = \""+odd+"\"\n"))
		require.Len(t, Mistakes(problems), 1, odd)
		require.Contains(t, problems[0].Message, "can't be seen")
	}
}

func TestOwnCertificateNeedsBothFiles(t *testing.T) {
	_, problems := Parse("x", []byte("[server]\ntls = \"files\"\ntls_key = \"k.pem\"\n"))
	require.Len(t, problems, 1)
	require.Contains(t, problems[0].Message, "is missing")
	require.Equal(t, "server.tls_cert", problems[0].Key)
	cfg, problems := Parse("x", []byte("[server]\ntls_cert = \"c.pem\"\nhosts = \"jetter\"\n"))
	require.Empty(t, Mistakes(problems))
	require.Len(t, problems, 1, "a file that isn't used is worth a note")
	require.Equal(t, []string{"jetter"}, cfg.Server.Hosts)
}

// TestTextIsWhatWasRead: the text beside a config is the one it was read from,
// which a pipe gives only once.
func TestTextIsWhatWasRead(t *testing.T) {
	path := filepath.Join(t.TempDir(), "my.toml")
	text := []byte("[machine]\nname = \"Mine\"\n")
	require.NoError(t, os.WriteFile(path, text, 0o600))
	c, got, err := LoadText(path)
	require.NoError(t, err)
	require.Equal(t, text, got)
	require.Equal(t, sha256.Sum256(got), c.Hash)
	_, _, err = LoadText(path + "x")
	require.ErrorContains(t, err, "cannot read the config")
}
