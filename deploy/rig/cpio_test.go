package rig

import (
	"bytes"
	"os/exec"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

// Another reader of the format is the judge of what was written.
func TestArchiveReadsElsewhere(t *testing.T) {
	cpio := testneed.Program(t, "cpio", "cpio")
	var b bytes.Buffer
	a := newArchive(&b)
	a.folder("proc")
	a.file("/init", 0o755, []byte("one"))
	a.file("/etc/deep/er.toml", 0o644, []byte("three\n"))
	a.file("/etc/deep/other", 0o600, nil)
	require.NoError(t, a.end())
	cmd := exec.Command(cpio, "-it", "--quiet")
	cmd.Stdin = bytes.NewReader(b.Bytes())
	out, err := cmd.Output()
	require.NoError(t, err)
	require.Equal(t, "proc\ninit\netc\netc/deep\netc/deep/er.toml\netc/deep/other\n", string(out))

	cmd = exec.Command(cpio, "-i", "--quiet", "--to-stdout", "etc/deep/er.toml")
	cmd.Stdin = bytes.NewReader(b.Bytes())
	out, err = cmd.Output()
	require.NoError(t, err)
	require.Equal(t, "three\n", string(out))
}

func TestLinesFromTheGuest(t *testing.T) {
	for _, c := range []struct {
		text string
		want Line
		ok   bool
	}{
		{"1.250 ok bus 0", Line{1250 * time.Millisecond, "ok", "bus 0"}, true},
		{"0.000 ok ", Line{0, "ok", ""}, true},
		{"2.5 END", Line{2500 * time.Millisecond, "END", ""}, true},
		{"", Line{}, false},
		{"ok bus 0", Line{}, false},
	} {
		l, ok := parseLine(c.text)
		require.Equal(t, c.ok, ok, c.text)
		require.Equal(t, c.want, l, c.text)
	}
}
