package main

import (
	"bytes"
	"net/netip"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/access"
)

func TestPINCommand(t *testing.T) {
	dir := t.TempDir()
	pin := func(args ...string) (int, string) {
		var out, err bytes.Buffer
		code := run(t.Context(), append([]string{"pin"}, args...), stdio{nil, &out, &err})
		return code, out.String() + err.String()
	}
	for _, look := range [][]string{{}, {""}, {"-record", dir}, {"old", "-record", dir}, {"new", "-record", dir, "x"}} {
		code, _ := pin(look...)
		require.Equal(t, exitUsage, code, "%q", look)
		require.NoDirExists(t, access.Folder(dir))
	}
	code, text := pin("new", "-record", filepath.Join(dir, "mistyped"))
	require.Equal(t, exitError, code)
	require.Contains(t, text, "-record")

	code, text = pin("new", "-record", dir)
	require.Equal(t, exitOK, code)
	require.Contains(t, text, dir, "it says which program it holds for")
	require.Equal(t, "headroom pin new -record /var/lib/headroom", pinCommand("/var/lib/headroom"))
	require.Equal(t, `headroom pin new -record '/a b/it'\''s'`, pinCommand("/a b/it's"))
	g, err := access.Open(access.Folder(dir), access.Options{})
	require.NoError(t, err)
	_, err = g.Enter(t.Context(), netip.IPv6Loopback(), regexp.MustCompile(`\d{4} \d{4}`).FindString(text))
	require.NoError(t, err)
}
