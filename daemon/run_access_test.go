package main

import (
	"bytes"
	"log/slog"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/access"
	"headroom/daemon/app"
)

// A bad sector in the PIN's file must cost the changes on the dashboard, and not
// the watching.
func TestADamagedPINKeepsNobodyFromWatching(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(access.Folder(folder), "pin")
	require.NoError(t, os.Mkdir(filepath.Dir(path), 0o700))
	require.NoError(t, os.WriteFile(path, []byte("$argon2id$v=19$m=1"), 0o600))
	var log, out bytes.Buffer
	opt := app.Options{Folder: folder, Listen: "127.0.0.1:0", Log: slog.New(slog.NewTextHandler(&log, nil))}
	var o runFlags
	require.NoError(t, o.guardChanges(&opt))
	o.givePIN(&opt, stdio{nil, &out, &out})
	require.Empty(t, out.String())
	require.NotNil(t, opt.Gate, "without one everybody could change everything")
	require.False(t, opt.Gate.Knows(""))
	require.Contains(t, log.String(), "headroom pin new")
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, "$argon2id$v=19$m=1", string(kept), "no PIN is drawn unasked")
}
