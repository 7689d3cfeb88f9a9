//go:build rig

package rig

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What the kernel and periph do with a good bus and with each broken one: the
// facts that a driver for the converter is built on.
func TestI2CBus(t *testing.T) {
	g := boot(t)
	for i, v := range []string{"1.0", "2.5", "0.5", "3.3"} {
		g.do("adc volts %d %s", i, v)
	}
	require.Equal(t, "bus 0", g.do("i2c plug"))
	g.do("child start p 0 /probe volts 0")
	t.Logf("good bus: %s", g.say(5*time.Second, "volts 1.0000 2.5000 0.5000 3.3000").Text)
	g.do("adc volts 0 1.25")
	g.say(5*time.Second, "volts 1.2500 2.5000")

	g.do("adc move 0x49")
	t.Logf("nobody at 0x48: %s", g.say(5*time.Second, "volts error").Text)
	g.do("adc move 0x48")
	g.say(5*time.Second, "volts 1.2500")

	g.do("i2c stick")
	stuck := g.say(20*time.Second, "volts error")
	t.Logf("stuck for ever: %s", stuck.Text)
	require.NotContains(t, stuck.Text, "after 0.", "the kernel's own time-out is of seconds")
	g.do("i2c release")
	g.say(10*time.Second, "volts 1.2500")

	for round := range 3 {
		g.do("i2c unplug")
		gone := g.say(5*time.Second, "volts error")
		bus := g.do("i2c plug")
		back := g.say(10*time.Second, "volts 1.2500")
		t.Logf("unplugged, round %d: %s; plugged in again as %s, read again %.2f s later", round+1, gone.Text, bus, (back.Uptime - gone.Uptime).Seconds())
		require.Equal(t, "bus 0", bus, "a program that closes the bus gets the same number again")
	}
	g.end()
}

// A program that hangs in a transfer can't be killed at once: its lines fall
// only when the last thread has left the kernel, that is, after the kernel's
// own time-out for the bus.
func TestKilledWhileTheBusHangs(t *testing.T) {
	g := boot(t)
	g.do("i2c plug")
	g.do("child start p 0 /probe both RELAY 0")
	g.say(5*time.Second, "volts 0.0000")
	require.Equal(t, "1", g.do("pin value RELAY"))
	g.do("i2c stick")
	time.Sleep(300 * time.Millisecond)
	before, err := g.Do("pin value RELAY")
	require.NoError(t, err)
	g.do("child signal p KILL")
	after, err := g.Do("pin value RELAY")
	require.NoError(t, err)
	require.Equal(t, "0", after.Text)
	took := after.Uptime - before.Uptime
	t.Logf("killed with a transfer hanging: the relay fell within %.2f s", took.Seconds())
	require.Less(t, took, 3*time.Second)
	g.end()
}
