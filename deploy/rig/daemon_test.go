//go:build rig

package rig

import (
	"fmt"
	"sort"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/rig/meter"
)

// The program itself, as the service manager runs it, with a sensor of every
// kind on a real kernel: every channel right, every fault a status on its own
// channels only, alarms that light the beacon, and a relay that falls in every
// way a program can end.
func TestDaemon(t *testing.T) {
	m := meter.New(1)
	var working atomic.Bool
	stop := make(chan struct{})
	defer close(stop)
	go ripple(m, stop, working.Load)
	d := &daemon{guest: bootImage(t, daemonImage, Options{Serial: m.Serve}), meter: m}
	d.rest()
	require.Equal(t, "bus 0", d.do("i2c plug"))
	d.do("wire plug")
	d.firsts(d.start("first"))
	d.do("wire search off")

	require.Equal(t, "1", d.do("pin value BEACON"), "steady while the relay waits for its reset")
	d.release()
	d.await(40*time.Second, func(s seen) string { return unless(s.level == "normal", "level "+s.level) })
	d.becomes("BEACON", "0", 3*time.Second)

	d.work()
	working.Store(true)
	s := d.await(15*time.Second, d.allWrong)
	t.Logf("at work: machine %s, flow %.3g L/s, inlet %.4g kPa, outlet %.3g MPa, current %.4g A", s.state,
		1e3*s.channels["flow"].value, 1e-3*s.channels["inlet_pressure"].value, 1e-6*s.channels["outlet_pressure"].value, s.channels["motor_current"].value)
	rounds := 1
	if *long {
		rounds = 4
	}
	for range rounds {
		for _, f := range faults {
			d.endure(f)
		}
	}
	d.alarm()
	working.Store(false)
	t.Logf("the wheel gave %s", d.do("wheel stop"))
	d.kiloHertz()
	d.ends()
	d.counts()
	d.scans()
	d.end()
}

func unless(good bool, why string) string {
	if good {
		return ""
	}
	return why
}

// alarm lets the inlet pressure sink to 10 kPa, 11 % of the supply. The
// kernel's own record of the lines is the witness.
func (d *daemon) alarm() {
	d.t.Helper()
	d.await(30*time.Second, func(s seen) string { return unless(s.level != "act", "level "+s.level) })
	d.do("pin trace x")
	d.volts(0, 0.11*4.9/2)
	d.want["inlet_pressure"] = want{10e3, 3e3}
	sunk := d.look()
	rings := d.await(10*time.Second, func(s seen) string { return unless(s.alarms["inlet_low.act"], "no alarm") })
	d.becomes("RELAY", "0", 3*time.Second)
	time.Sleep(3 * time.Second)
	relay, beacon := d.levels("RELAY"), d.levels("BEACON")
	gaps := gapsOf(beacon)
	require.GreaterOrEqual(d.t, len(gaps), 6, "the beacon flashes")
	require.InDelta(d.t, 0.25, gaps[len(gaps)/2], 0.1, "quickly, by the median: 250 ms on, 250 ms off")
	require.Len(d.t, relay, 1, "and the relay opens, once")
	d.t.Logf("inlet at 10 kPa: act after %.1f s; relay opened at %.2f s of the kernel's clock, %d changes of the beacon, median %.2f s apart",
		(rings.at - sunk.at).Seconds(), relay[0].at, len(beacon), gaps[len(gaps)/2])

	d.volts(0, 0.4*4.9/2)
	d.want["inlet_pressure"] = want{300e3, 3e3}
	d.await(40*time.Second, func(s seen) string { return unless(!s.alarms["inlet_low.act"], "alarm") })
	d.release()
}

// gapsOf are the times between changes, in order of length.
func gapsOf(events []event) (gaps []float64) {
	for i := 1; i < len(events); i++ {
		gaps = append(gaps, events[i].at-events[i-1].at)
	}
	sort.Float64s(gaps)
	return gaps
}

// kiloHertz sends pulses and looks at the water that the daemon added up. The
// total is rates times time, and the driver reads low in the pauses that a busy
// host makes, and never high; the exact count is the matter of counts.
func (d *daemon) kiloHertz() {
	d.t.Helper()
	quiet := func(s seen) string { return unless(s.channels["flow"].value < 1e-7, "water flows") } // the page's value is smoothed
	before := d.await(10*time.Second, quiet)
	sent := d.do("pin mean FLOW 5000 1000")
	after := d.await(10*time.Second, quiet)
	litres := 1e3 * (after.waterM3 - before.waterM3)
	d.t.Logf("sent %s; the daemon added up %.3f L", sent, litres)
	require.Less(d.t, litres, 5.15, "1000 pulses a litre")
	require.Greater(d.t, litres, 2.5)
	require.Equal(d.t, "good", after.channels["flow"].status)
}

// ends lets the daemon end in every way; each time the relay must fall.
func (d *daemon) ends() {
	d.t.Helper()
	d.do("child signal first KILL")
	require.Equal(d.t, "0", d.do("pin value RELAY"), "after kill -9")

	d.start("hung")
	d.release()
	begun, err := d.Do("child signal hung STOP")
	require.NoError(d.t, err)
	note := d.say(15*time.Second, "hung gave no sign of life")
	d.becomes("RELAY", "0", 3*time.Second)
	d.t.Logf("killed: relay off at once; hung: killed by the service watchdog %.1f s later, relay off", (note.Uptime - begun.Uptime).Seconds())

	d.start("good")
	d.release()
	d.do("pin trace x")
	begun, err = d.Do("child signal good TERM")
	require.NoError(d.t, err)
	gone := d.say(15*time.Second, " good exit status 0")
	fell := d.levels("RELAY")
	require.Equal(d.t, "0", fell[0].level, "an orderly end opens the relay itself")
	require.Equal(d.t, "0", d.do("pin value RELAY"))
	d.t.Logf("stopped: the relay opened by the daemon itself, ended %.1f s after the signal", (gone.Uptime - begun.Uptime).Seconds())
}

// counts runs headroom live, whose raw column has the count itself.
func (d *daemon) counts() {
	d.t.Helper()
	d.Drop()
	d.do("child start live 0 /headroom live -config /headroom.toml -record /tmp/record")
	d.say(20*time.Second, "live flow", " 0 pulses")
	sent := d.do("pin mean FLOW 5000 1000")
	l := d.say(15*time.Second, "live flow", " 5000 pulses")
	require.NotContains(d.t, l.Text, "lost")
	d.t.Logf("sent %s; %s", sent, strings.Join(strings.Fields(l.Text), " "))

	d.do("child signal live STOP")
	d.do("pin mean FLOW 3000 1000")
	d.do("child signal live CONT")
	l = d.say(15*time.Second, "live flow", " 8000 pulses")
	_, tail, found := strings.Cut(l.Text, "Hz, ")
	require.True(d.t, found, l.Text)
	lost := 0
	_, err := fmt.Sscanf(tail, "%d lost", &lost)
	require.NoError(d.t, err, l.Text)
	require.Equal(d.t, 3000-1024, lost, "the kernel holds 1024; the rest is known to be lost, and counted")
	d.t.Logf("3000 more while nobody reads; %s", strings.Join(strings.Fields(l.Text), " "))
	d.do("child signal live TERM")
	d.say(10*time.Second, " live exit status 0")
}

// scans runs headroom scan.
func (d *daemon) scans() {
	d.t.Helper()
	text := strings.Join(d.program(30*time.Second, "scan", "/headroom scan"), "\n")
	for _, line := range []string{
		"  i2c-0 ", "    0x48  16-bit converter", "  i2c-1 ", "    0x18  held by the kernel's driver ds2482",
		"  28-000000123456  thermometer", "  28-0000abcdef01  thermometer", "  /dev/gpiochip0  pinctrl-bcm2835, 9 lines", "FLOW", "RESET", "/dev/ttyS1",
	} {
		require.Contains(d.t, text, line)
	}
	require.NotContains(d.t, text, "0x49")
	head, _, _ := strings.Cut(text, "# A config")
	d.t.Logf("scan:\n%s", head)
}
