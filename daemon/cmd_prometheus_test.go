package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestPrometheusPrintsWritesAndChecks(t *testing.T) {
	for name, part := range map[string]string{
		"alerts": "HeadroomInletLowAct", "tests": "machine by machine", "days-tests": "HeadroomNotSeen", "dashboard": `"uid": "headroom-machines"`,
	} {
		code, page, errText := typed("prometheus", name)
		require.Equal(t, exitOK, code, errText)
		require.Contains(t, page, part)
		file := filepath.Join(t.TempDir(), name)
		code, _, _ = typed("prometheus", name, "-write", file)
		require.Equal(t, exitOK, code)
		code, out, _ := typed("prometheus", name, "-check", file)
		require.Equal(t, exitOK, code)
		require.Equal(t, file+": current\n", out)
		require.NoError(t, os.WriteFile(file, []byte(page+"more\n"), 0o644))
		code, _, errText = typed("prometheus", name, "-check", file)
		require.Equal(t, exitError, code)
		require.Contains(t, errText, "headroom prometheus "+name+" -write "+file)
	}
}

// A limit that a config doesn't have has no alert.
func TestPrometheusOfAConfig(t *testing.T) {
	file := filepath.Join(t.TempDir(), "mine.toml")
	require.NoError(t, os.WriteFile(file, []byte("base = \"bare\"\n[simulator]\non = true\n"), 0o600))
	_, all, _ := typed("prometheus", "alerts")
	code, mine, errText := typed("prometheus", "alerts", "-config", file)
	require.Equal(t, exitOK, code, errText)
	require.Less(t, len(mine), len(all))
}

func TestPrometheusSaysWhatIsWrong(t *testing.T) {
	for _, args := range [][]string{{"prometheus"}, {"prometheus", "alarms"}, {"prometheus", "alerts", "x"}} {
		code, _, errText := typed(args...)
		require.Equal(t, exitUsage, code)
		require.Contains(t, errText, "usage: headroom prometheus alerts")
	}
}
