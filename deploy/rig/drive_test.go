//go:build rig

package rig

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// reading is one line of the probe: what the board shows for a channel.
type reading struct {
	channel, status, note string
	value                 float64
	at                    time.Duration
}

func (r reading) String() string {
	return fmt.Sprintf("%s %s %.6g %q", r.channel, r.status, r.value, r.note)
}

// parseReading takes "drive read inlet_pressure good 1.5e5 NOTE" apart.
func parseReading(l Line) (r reading, ok bool) {
	w := strings.SplitN(l.Text, " ", 6)
	if l.Kind != "out" || len(w) < 5 || w[1] != "read" {
		return r, false
	}
	v, err := strconv.ParseFloat(w[4], 64)
	r = reading{channel: w[2], status: w[3], value: v, at: l.Uptime}
	if len(w) == 6 {
		r.note = w[5]
	}
	return r, err == nil
}

// drive starts the probe with these kinds of driver.
func (g *guest) drive(kinds string) {
	g.t.Helper()
	g.do("child start drive 5 /probe drive %s", kinds)
}

// until waits until the board shows a channel in a status, with a value within
// near of want where the status is good, and returns that reading.
func (g *guest) until(limit time.Duration, channel, status string, want, near float64) reading {
	g.t.Helper()
	var got, last reading
	_, err := g.Wait(limit, fmt.Sprintf("%s %s %g", channel, status, want), func(l Line) bool {
		r, ok := parseReading(l)
		if !ok || r.channel != channel {
			return false
		}
		last, got = r, r
		return r.status == status && (status != "good" || r.value > want-near && r.value < want+near)
	})
	require.NoError(g.t, err, "the board shows %v", last)
	return got
}

// never fails when a channel is shown as good with a value away from all of
// values, within limit: a fault may cost a reading, and never make up one.
func (g *guest) never(limit time.Duration, channel string, near float64, values ...float64) {
	g.t.Helper()
	l, err := g.Wait(limit, "a made-up value", func(l Line) bool {
		r, ok := parseReading(l)
		if !ok || r.channel != channel || r.status != "good" {
			return false
		}
		for _, v := range values {
			if r.value > v-near && r.value < v+near {
				return false
			}
		}
		return true
	})
	require.ErrorIs(g.t, err, ErrLate, "a made-up value: %s", l.Text)
}

// log prints what was seen, for whoever reads the run.
func (g *guest) log(what string, r reading) { g.t.Logf("%-34s %v", what+":", r) }

// The converter's driver, through supervisor and board. The inlet is 4-20 mA
// over 100 ohm for -100 to 900 kPa, so 0.8 V are 150 kPa; the outlet 1-3 V for
// 0 to 20 MPa.
func TestConverterDriver(t *testing.T) {
	g := boot(t)
	g.do("adc volts 0 0.8")
	g.do("adc volts 1 2.0")
	g.do("i2c plug")
	g.drive("adc")
	const inlet, outlet = "inlet_pressure", "outlet_pressure"
	g.until(10*time.Second, inlet, "good", 150e3, 200)
	g.log("good", g.until(10*time.Second, outlet, "good", 10e6, 10e3))

	g.do("adc volts 0 0.21")
	g.log("loop at 2.1 mA", g.until(5*time.Second, inlet, "failed", 0, 0))
	g.log("meanwhile the other input", g.until(5*time.Second, outlet, "good", 10e6, 10e3))
	g.do("adc volts 0 0.8")
	g.until(5*time.Second, inlet, "good", 150e3, 200)

	g.do("adc brownout 20")
	g.Drop()
	g.log("supply dips", g.until(5*time.Second, outlet, "failed", 0, 0))
	g.never(2*time.Second, outlet, 10e3, 10e6)
	g.log("after 20 brown-outs", g.until(5*time.Second, outlet, "good", 10e6, 10e3))

	g.do("adc move 0x49")
	g.log("nobody at the address", g.until(5*time.Second, inlet, "failed", 0, 0))
	g.do("adc move 0x48")
	g.until(15*time.Second, inlet, "good", 150e3, 200)

	g.do("i2c stick")
	stuck := g.until(10*time.Second, inlet, "failed", 0, 0)
	g.log("bus stuck", stuck)
	time.Sleep(2 * time.Second)
	g.do("i2c release")
	back := g.until(15*time.Second, inlet, "good", 150e3, 200)
	t.Logf("released; good again %.1f s after the fault showed", (back.at - stuck.at).Seconds())

	rounds := 2
	if *long {
		rounds = 8
	}
	for range rounds {
		g.do("i2c unplug")
		gone := g.until(5*time.Second, inlet, "failed", 0, 0)
		g.log("adapter unplugged", gone)
		g.do("i2c plug")
		back = g.until(20*time.Second, inlet, "good", 150e3, 200)
		t.Logf("plugged in; good again %.1f s after the fault showed", (back.at - gone.at).Seconds())
	}
	g.end()
}

// The thermometers' driver over the kernel's own 1-wire master.
func TestThermometerDriver(t *testing.T) {
	g := boot(t)
	g.do("wire plug")
	t.Logf("the kernel found %s", g.do("wire find 2"))
	g.drive("thermo")
	const water, air = "water_temp", "ambient_temp"
	g.log("good", g.until(15*time.Second, water, "good", 273.15+21.5, 0.01))
	g.log("below freezing", g.until(15*time.Second, air, "good", 273.15-7.25, 0.01))

	g.do("wire crc 0 on")
	g.log("bad check sum", g.until(20*time.Second, water, "failed", 0, 0))
	g.do("wire crc 0 off")
	g.until(20*time.Second, water, "good", 273.15+21.5, 0.01)

	g.do("wire brownout 0 on")
	g.Drop()
	l, err := g.Wait(20*time.Second, "a status for 85 degrees", func(l Line) bool {
		r, ok := parseReading(l)
		return ok && r.channel == water && (r.status != "good" || r.value > 273.15+22)
	})
	require.NoError(t, err)
	r, _ := parseReading(l)
	g.log("power-on value of 85 degrees", r)
	require.Contains(t, []string{"failed", "out_of_band", "suspect"}, r.status, "85 degrees of a sensor without power must not pass for a temperature")
	g.do("wire brownout 0 off")
	g.until(20*time.Second, water, "good", 273.15+21.5, 0.01)

	g.do("wire pull 0")
	g.Drop()
	g.log("sensor pulled", g.until(20*time.Second, water, "failed", 0, 0))
	g.log("meanwhile the other sensor", g.until(20*time.Second, air, "good", 273.15-7.25, 0.01))
	g.do("wire push 0")
	g.do("wire temp 0 30.5")
	g.log("plugged in again", g.until(30*time.Second, water, "good", 273.15+30.5, 0.01))

	if *long {
		g.do("wire unplug")
		g.log("bus unplugged", g.until(30*time.Second, air, "failed", 0, 0))
		g.do("wire plug")
		g.log("bus plugged in again", g.until(60*time.Second, air, "good", 273.15-7.25, 0.01))
	}
	g.end()
}

// The flow meter's driver: 1000 pulses a litre.
func TestFlowDriver(t *testing.T) {
	g := boot(t)
	g.drive("flow")
	g.log("no water", g.until(10*time.Second, "flow", "good", 0, 1e-9))
	g.steadyFlow()
	g.log("water stopped", g.until(10*time.Second, "flow", "good", 0, 1e-9))

	// A flood while nobody reads: the kernel's buffer runs over, and its numbers
	// tell by how much. The driver must neither show a flow for it nor be silent.
	g.do("child signal drive STOP")
	g.do("pin pulses FLOW 3000")
	g.do("child signal drive CONT")
	g.Drop()
	var flood reading
	_, err := g.Wait(15*time.Second, "a word on the flood", func(l Line) bool {
		r, ok := parseReading(l)
		flood = r
		return ok && r.status != "good" && r.note != ""
	})
	require.NoError(t, err)
	g.log("3000 pulses at once, nobody reads", flood)
	require.Contains(t, []string{"suspect", "service"}, flood.status)
	words := strings.Fields(flood.note)
	all, err := strconv.Atoi(words[2])
	require.NoError(t, err, flood.note)
	require.GreaterOrEqual(t, all, 3000, "all are accounted for, though the kernel holds 1024")
	g.end()
}

// steadyFlow sends pulses at 200 a second, or whatever less a busy host allows:
// pauses that the host makes are real pauses to the driver, which reads low in
// them and never high. So the highest flow must be that of the pulses, in one
// of a few tries. That no pulse is lost is the matter of TestGPIOPulses.
func (g *guest) steadyFlow() {
	g.t.Helper()
	most := 0.0
	for try := 0; try < 4 && most < 170e-6; try++ {
		require.NoError(g.t, g.Send("pin steady FLOW 600 200"))
		r := g.until(10*time.Second, "flow", "good", 0.5, 0.4999999)
		for ; r.value > 0; r = g.until(5*time.Second, "flow", "good", 0, 1) {
			most = max(most, r.value)
		}
		g.t.Logf("sent %s; the driver showed up to %.4g L/s", g.reply(), most*1e3)
	}
	require.InEpsilon(g.t, 200e-6, most, 0.15, "1000 pulses a litre")
}
