package dashboard

import (
	"os/exec"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/dashboard/webtest"
	"headroom/deploy/testneed"
)

// The scripts are typed by their comments, and checked as strictly as there is.
func TestScriptsAreTyped(t *testing.T) {
	tsc := webtest.Module(t, "typescript", "bin", "tsc")
	cmd := exec.Command(testneed.Program(t, "nodejs", "node"), tsc, "--project", "checks")
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", out)
}
