package ruleset

import (
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

// The example of a fleet is checked by the programs that read it.
func TestTheExampleFleet(t *testing.T) {
	tool := testneed.Program(t, "prometheus", "promtool")
	am := testneed.Program(t, "prometheus-alertmanager", "amtool")
	for _, args := range [][]string{
		{tool, "check", "config", "prometheus.yml"},
		{tool, "check", "rules", "--lint-fatal", "recording.yml"},
		{tool, "check", "web-config", "web.yml"},
		{tool, "test", "rules", "recording_test.yml"},
		{am, "check-config", "alertmanager.yml"},
	} {
		cmd := exec.Command(args[0], args[1:]...)
		cmd.Dir = filepath.Join(folder, "fleet")
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, "%v: %s", args, out)
	}
	// The routes lead where the text says.
	for labels, want := range map[string]string{"severity=act": "on-call\n", "severity=warning": "office\n", "severity=advice": "list\n"} {
		cmd := exec.Command(am, "config", "routes", "test", "--config.file=alertmanager.yml", labels)
		cmd.Dir = filepath.Join(folder, "fleet")
		out, err := cmd.Output()
		require.NoError(t, err)
		require.Equal(t, want, string(out))
	}
}
