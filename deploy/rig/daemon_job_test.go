//go:build rig

package rig

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/rig/meter"
)

// The machine at rest, and what its sensors then give. By hand from the
// config: the transducers' supply is 4.9 V, and all but the loop have a
// divider by two ahead of the pin. Inlet: 350 of 800 kPa are 45 % of the
// supply. Outlet: 0 MPa is 4 mA, 0.4 V over 100 ohm. Motor: the part's 10 kohm
// at 25 degrees halve the supply. On each lies a ripple of 1 mV, since a
// reading that never moves counts as stuck while the pump turns.
func (d *daemon) rest() {
	d.want = map[string]want{
		"inlet_pressure":  {350e3, 3e3},
		"outlet_pressure": {0, 60e3},
		"motor_temp":      {298.15, 0.3},
		"water_temp":      {273.15 + 21.5, 0.01},
		"ambient_temp":    {273.15 + 18.25, 0.01},
		"flow":            {0, 1e-9},
		"supply_voltage":  {121, 0.2},
		"motor_current":   {0, 0.001},
		"running":         {0, 0},
		"trigger":         {0, 0},
	}
	d.volts(3, 4.9/2)
	d.volts(2, 4.9/4)
	d.volts(1, 0.4)
	d.volts(0, 0.45*4.9/2)
	d.meter.Set(16, 0)
	d.meter.SetFloat(0, 121)
	d.do("wire temp 1 18.25")
}

// work starts the machine: 300 kPa are 40 % of the supply, 8 of 16 MPa 12 mA.
// The wheel gives 80 pulses a second, 0.08 L/s, and fewer on a busy host; the
// plate says 0.063 L/s, so that the host's pauses are no alarm.
func (d *daemon) work() {
	d.want["inlet_pressure"] = want{300e3, 3e3}
	d.want["outlet_pressure"] = want{8e6, 60e3}
	d.want["flow"] = want{0.043e-3, 0.042e-3}
	d.want["supply_voltage"] = want{118, 0.2}
	d.want["motor_current"] = want{12, 0.03}
	d.want["running"], d.want["trigger"] = want{1, 0}, want{1, 0}
	d.volts(0, 0.4*4.9/2)
	d.volts(1, 1.2)
	d.meter.Set(16, 1200)
	d.meter.SetFloat(0, 118)
	d.do("pin pull RUNNING down")
	d.do("pin pull TRIGGER down")
	d.do("wheel turn FLOW 80")
}

// volts puts a voltage with its ripple at a pin.
func (d *daemon) volts(pin int, v float64) { d.do("adc sine %d %g 0.001 0.3", pin, v) }

// ripple moves the meter's last digit, as a real one does.
func ripple(m *meter.Meter, stop <-chan struct{}, working func() bool) {
	for i := uint16(0); ; i++ {
		select {
		case <-stop:
			return
		case <-time.After(700 * time.Millisecond):
		}
		if working() {
			m.Set(16, 1199+i%3)
			m.SetFloat(0, 117.9+float32(i%3)/10)
		}
	}
}

// start starts the daemon under the service manager's eye and waits for its
// page.
func (d *daemon) start(name string) (started Line) {
	d.t.Helper()
	d.Drop()
	started, err := d.Do("child start %s 5 /headroom run -config /headroom.toml -record /tmp/record", name)
	require.NoError(d.t, err)
	for d.last = (seen{}); ; time.Sleep(50 * time.Millisecond) {
		if s, ok := d.fetched(); ok {
			d.last = s
			return started
		} else if l, err := d.Do("read /proc/uptime"); err == nil {
			require.Less(d.t, l.Uptime-started.Uptime, 30*time.Second, "the daemon serves no page")
		}
	}
}

// firsts waits until every channel has its true value and logs when each had.
func (d *daemon) firsts(started Line) {
	d.t.Helper()
	first := map[string]time.Duration{}
	page := d.last.at
	s := d.await(40*time.Second, func(s seen) string {
		for c := range d.want {
			if _, known := first[c]; !known && d.wrong(s, c) == "" {
				first[c] = s.at
			}
		}
		return d.allWrong(s)
	})
	names := channelNames(d.want)
	slices.SortFunc(names, func(a, b string) int { return int(first[a] - first[b]) })
	init := d.initBegan()
	d.t.Logf("init began %.2f s after power-on; then: ready %.2f s, daemon started %.2f s, page %.2f s", init.Seconds(), (d.Ready().Uptime - init).Seconds(), (started.Uptime - init).Seconds(), (page - init).Seconds())
	for _, c := range names {
		d.t.Logf("  %-16s %-5s %10.5g  %.2f s after init, %.2f s after the daemon's start", c, s.channels[c].status, s.channels[c].value, (first[c] - init).Seconds(), (first[c] - started.Uptime).Seconds())
	}
}

// channelNames are the channels in a steady order.
func channelNames(want map[string]want) []string { return slices.Sorted(maps.Keys(want)) }

// initBegan is how long after power-on the first program began.
func (g *guest) initBegan() time.Duration {
	g.t.Helper()
	began := 0.0
	_, err := fmt.Sscanf(g.Ready().Text, "began at %f,", &began)
	require.NoError(g.t, err)
	return time.Duration(began * float64(time.Second))
}

// press presses the reset button for as long as a person does.
func (d *daemon) press() {
	d.do("pin pull RESET down")
	time.Sleep(400 * time.Millisecond)
	d.do("pin pull RESET up")
}

// release makes the machine run: the relay closes by the button and not before.
func (d *daemon) release() {
	d.t.Helper()
	require.Equal(d.t, "0", d.do("pin value RELAY"), "the relay waits for a person")
	time.Sleep(300 * time.Millisecond) // the button must be seen up first
	d.press()
	d.becomes("RELAY", "1", 5*time.Second)
}
