//go:build rig

package rig

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The chip goes away under the programs that hold its lines, as when the cable
// of an expander comes off. A flow meter on it must then not read zero, nor a
// contact as it stood last, and both come back by themselves.
func TestGPIOChipGone(t *testing.T) {
	g := boot(t)
	g.drive("flow switch")
	const flow, running = "flow", "running"
	g.until(10*time.Second, running, "good", 0, 0.1) // the request's own pull-up
	g.do("pin pull RUNNING down")
	g.until(5*time.Second, running, "good", 1, 0.1)
	g.log("standing", g.until(10*time.Second, flow, "good", 0, 1e-9))
	g.do("pin unplug")
	g.log("chip gone", g.until(5*time.Second, flow, "failed", 0, 0))
	g.log("and the contact", g.until(5*time.Second, running, "failed", 0, 0))
	g.Drop()
	l, err := g.Wait(2*time.Second, "a good reading", func(l Line) bool {
		r, ok := parseReading(l)
		return ok && r.status == "good"
	})
	require.ErrorIs(t, err, ErrLate, "a lost chip has no good reading: %s", l.Text)
	t.Log("plugged again: ", g.do("pin plug"))
	g.log("again", g.until(15*time.Second, flow, "good", 0, 1e-9))
	g.until(15*time.Second, running, "good", 0, 0.1)
	g.do("pin pull RUNNING down")
	g.until(5*time.Second, running, "good", 1, 0.1)
	sent := g.do("pin steady FLOW 200 100")
	g.log("after "+sent, g.until(5*time.Second, flow, "good", 1e-4, 0.5e-4))
	g.do("child signal drive KILL")
	g.end()
}

// An output that nobody moves tells all the same that its chip is gone, and
// asking doesn't move it.
func TestOutputChipGone(t *testing.T) {
	g := boot(t)
	g.do("child start hold 5 /probe hold RELAY")
	g.say(5*time.Second, "holding")
	g.do("pin trace x")
	_, err := g.Wait(2*time.Second, "no word", func(l Line) bool { return l.Kind == "out" })
	require.ErrorIs(t, err, ErrLate)
	require.Empty(t, g.do("pin traced RELAY"), "asked ten times, and never touched")
	g.do("pin unplug")
	t.Log(g.say(2*time.Second, " gone ").Text)
	g.do("child signal hold KILL")
	g.end()
}
