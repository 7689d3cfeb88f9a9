//go:build rig

package rig

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// When everything hangs, the hardware watchdog is the last. A machine that
// resets never says END, so this is the one test whose pass has none.
func TestWatchdogResetsAHungMachine(t *testing.T) {
	g := boot(t)
	t.Log(g.do("dog feed 3"))
	fed := 4 * time.Second
	if *long {
		fed = 20 * time.Second
	}
	require.False(t, g.Exited(fed), "a fed machine runs on")
	g.do("dog starve")
	begin := time.Now()
	require.True(t, g.Exited(20*time.Second), "a starved machine is reset")
	took := time.Since(begin)
	t.Logf("fed for %v; reset %.1f s after the last feed", fed, took.Seconds())
	require.Greater(t, took, time.Second)
	_, err := g.Do("read /proc/uptime")
	require.Error(t, err, "and nothing answers any more")
}
