//go:build rig

package rig

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// event is one line of the kernel's own record of a pin.
type event struct {
	at    float64
	level string
}

// levels returns the levels that a pin was driven to, by the kernel's record.
func (g *guest) levels(pin string) (all []event) {
	g.t.Helper()
	for _, s := range strings.Split(g.do("pin traced %s", pin), "; ") {
		var e event
		if n, _ := fmt.Sscanf(s, "%f set %s", &e.at, &e.level); n == 2 {
			all = append(all, e)
		}
	}
	require.NotEmpty(g.t, all, "nothing moved %s", pin)
	return all
}

// keeping starts the probe that lets the machine run and waits until it does.
func (g *guest) keeping(name string) {
	g.t.Helper()
	g.Drop()
	g.do("pin trace x")
	g.do("child start %s 3 /probe keep", name)
	g.say(5*time.Second, "keeping")
	g.becomes("RELAY", "1", 3*time.Second)
}

// becomes waits for a pin's level.
func (g *guest) becomes(pin, level string, limit time.Duration) {
	g.t.Helper()
	require.Eventually(g.t, func() bool { return g.do("pin value %s", pin) == level }, limit, 50*time.Millisecond, "%s never became %s", pin, level)
}

// Relay and beacon, moved by package outputs, watched by the kernel's own
// record: no level that nobody commanded, and safe in every way a program can
// fail.
func TestOutputs(t *testing.T) {
	g := boot(t)
	g.keeping("good")
	time.Sleep(2 * time.Second)
	relay, beacon := g.levels("RELAY"), g.levels("BEACON")
	t.Logf("relay: %v; beacon: %v", relay, beacon)
	require.Equal(t, "0", relay[0].level, "the relay begins open")
	require.Len(t, relay, 2, "and closes once")
	require.Equal(t, "1", beacon[0].level, "the beacon begins dark, which is a high line here")
	require.Greater(t, len(beacon), 4, "and flashes")

	g.do("child signal good TERM")
	g.say(5*time.Second, "kept")
	g.becomes("RELAY", "0", time.Second)
	require.Equal(t, "0", g.levels("RELAY")[2].level, "an orderly end opens the relay itself and leaves nothing to the kernel")

	g.keeping("stalled")
	stall := g.do("read /proc/uptime")
	g.do("child signal stalled USR1")
	g.becomes("RELAY", "0", 3*time.Second)
	fell := g.levels("RELAY")
	t.Logf("tick stalled at %s; relay: %v", strings.Fields(stall)[0], fell)
	g.say(5*time.Second, "dropped true")
	note := g.say(6*time.Second, "gave no sign of life")
	t.Logf("and the service manager ended it: %s", note.Text)
	require.Equal(t, "0", g.do("pin value RELAY"))

	g.keeping("killed")
	g.do("child signal killed KILL")
	require.Equal(t, "0", g.do("pin value RELAY"), "after kill -9")

	g.keeping("hung")
	g.do("child signal hung STOP")
	g.say(8*time.Second, "gave no sign of life")
	g.becomes("RELAY", "0", 2*time.Second)
	g.end()
}
