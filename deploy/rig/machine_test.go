//go:build rig

package rig

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The control of all suites: QEMU also ends, and with success, when the guest's
// kernel breaks down. That must not pass for a run.
func TestAPanicIsNoPass(t *testing.T) {
	g := boot(t)
	require.NoError(t, g.Send("guest panic"))
	require.True(t, g.Exited(10*time.Second))
	require.ErrorIs(t, g.End(), ErrGone)
	require.Contains(t, g.Console(), "Kernel panic")
}

func TestAWrongCommandIsAnError(t *testing.T) {
	g := boot(t)
	for _, c := range []string{"nonsense", "i2c nonsense", "pin value NOPIN", "adc volts 0 much", "child signal nobody KILL", "wire temp 7 20"} {
		_, err := g.Do("%s", c)
		require.Error(t, err, c)
	}
	g.end()
}
