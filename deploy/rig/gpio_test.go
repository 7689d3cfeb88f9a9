//go:build rig

package rig

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// counted is what the probe says of a train of pulses.
type counted struct {
	seen, lost, last int
	span             float64
}

// train sends pulses to a probe that reads the pin with a kernel buffer of
// that many events, late by stall, and returns what the probe counted.
func (g *guest) train(buffer, stallMs int, pulses string) counted {
	g.t.Helper()
	g.Drop()
	g.do("child start edges 0 /probe edges FLOW %d 400 %d", buffer, stallMs)
	g.say(5*time.Second, "armed")
	sent := g.do("pin pulses FLOW %s", pulses)
	var c counted
	l := g.say(10*time.Second, " edges seen ")
	_, err := fmt.Sscanf(l.Text, "edges edges seen %d lost %d last %d span %f", &c.seen, &c.lost, &c.last, &c.span)
	require.NoError(g.t, err, l.Text)
	g.t.Logf("buffer %4d, stalled %4d ms: sent %s; seen %d, lost by the kernel's count %d", buffer, stallMs, sent, c.seen, c.lost)
	return c
}

// The flow meter's promise on a real kernel: no pulse is lost, and where the
// kernel must lose some, its sequence numbers say how many.
func TestGPIOPulses(t *testing.T) {
	g := boot(t)
	kiloHertz := 1000
	if *long {
		kiloHertz = 20_000
	}
	c := g.train(1024, 0, fmt.Sprintf("%d 1000", kiloHertz))
	require.Equal(t, counted{kiloHertz, 0, kiloHertz, c.span}, c, "1 kHz")
	require.InDelta(t, float64(kiloHertz-1)/1000, c.span, 0.3, "the kernel's own time stamps")

	c = g.train(1024, 0, "1280 1280 64")
	require.Equal(t, 1280, c.seen, "bursts of 64")
	c = g.train(1024, 600, "900")
	require.Equal(t, counted{900, 0, 900, c.span}, c, "a reader late by 600 ms finds all in the buffer")

	// The control: with the kernel's own buffer of 16 a late reader must lose,
	// and the loss must show.
	c = g.train(0, 600, "900")
	require.Equal(t, counted{16, 884, 900, c.span}, c, "forced loss")
	c = g.train(1024, 1500, "3000")
	require.Less(t, c.seen, 3000)
	require.Equal(t, 3000, c.seen+c.lost, "more than any buffer: every pulse is seen or counted as lost")
	g.end()
}

// A relay that holds the machine must fall when the program dies, and when it
// hangs: the kernel takes the line back once the process is gone.
func TestGPIOOutputFallsWithItsProgram(t *testing.T) {
	g := boot(t)
	g.do("pin pull RELAY down")
	g.do("pin trace x")
	g.do("child start hold 1 /probe hold RELAY")
	g.say(5*time.Second, "holding")
	require.Equal(t, "1", g.do("pin value RELAY"))
	events := g.do("pin traced RELAY")
	t.Logf("the kernel's own record of switching on: %s", events)
	require.NotContains(t, events, "set 0", "no other level before the wanted one")

	g.do("child signal hold KILL")
	require.Equal(t, "0", g.do("pin value RELAY"), "after kill -9")

	g.Drop()
	g.do("child start hung 1 /probe hold RELAY")
	g.say(5*time.Second, "holding")
	require.Equal(t, "1", g.do("pin value RELAY"))
	begin := time.Now()
	g.do("child signal hung STOP")
	require.Equal(t, "1", g.do("pin value RELAY"), "a hung program still holds its line: only its end frees it")
	g.say(5*time.Second, "gave no sign of life")
	g.say(5*time.Second, "hung", "killed")
	require.Equal(t, "0", g.do("pin value RELAY"), "after a hang")
	t.Logf("hung program killed and relay released after %.1f s (sign of life every 0.2 s, limit 1 s)", time.Since(begin).Seconds())
	g.end()
	require.NotContains(t, strings.ToLower(g.Console()), "oops")
}

// Contacts to ground through the kernel's own debounce.
func TestSwitchDriver(t *testing.T) {
	g := boot(t)
	g.do("child start other 0 /probe edges RUNNING 16 60000")
	g.say(5*time.Second, "armed")
	g.drive("switch")
	g.log("another program holds the line", g.until(10*time.Second, "running", "failed", 0, 0))
	g.do("child signal other KILL")
	g.log("open contact", g.until(10*time.Second, "running", "good", 0, 0.1))
	g.do("pin pull RUNNING down")
	g.log("closed contact", g.until(5*time.Second, "running", "good", 1, 0.1))
	g.do("pin pulses RUNNING 5")
	g.Drop()
	g.never(time.Second, "running", 0.1, 1)

	for range 8 {
		g.do("pin pull TRIGGER down")
		time.Sleep(40 * time.Millisecond)
		g.do("pin pull TRIGGER up")
		time.Sleep(40 * time.Millisecond)
	}
	g.log("a contact that chatters", g.until(5*time.Second, "trigger", "suspect", 0, 0))
	g.log("and is calm again", g.until(10*time.Second, "trigger", "good", 0, 0.1))
	g.end()
}
