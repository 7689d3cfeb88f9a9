package emulated

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

const child = "HEADROOM_EMULATED_CHILD"

// TestSelf starts itself, under whatever emulator it runs itself.
func TestSelf(t *testing.T) {
	if os.Getenv(child) != "" {
		os.Exit(7)
	}
	cmd := Self(t.Context(), "-test.run=^TestSelf$")
	cmd.Env = append(os.Environ(), child+"=1")
	require.Error(t, cmd.Run())
	require.Equal(t, 7, cmd.ProcessState.ExitCode())

	t.Setenv(Variable, "some-emulator")
	require.Equal(t, []string{"some-emulator", os.Args[0], "-x"}, Self(t.Context(), "-x").Args)
	t.Setenv(Variable, "")
	require.Equal(t, []string{os.Args[0], "-x"}, Self(t.Context(), "-x").Args)
}
