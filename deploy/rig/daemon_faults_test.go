//go:build rig

package rig

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/rig/meter"
)

// fault is one thing that breaks, and what must then be seen.
type fault struct {
	name       string
	begin, end []string // commands
	after      []string // commands once all is well again
	breaks     meter.Fault
	hits       []string // channels that it costs; all others must stay good
	becomes    []string // the statuses that are right for it
	within     time.Duration
	hold       time.Duration // how long it stays; the channels must stay lost
	back       time.Duration // how long the way back may take
	note       string        // words that the page must then show
}

var (
	converted = []string{"inlet_pressure", "outlet_pressure", "motor_temp"}
	metered   = []string{"supply_voltage", "motor_current"}
)

// faults in the order of the wires. The limits are a scan, or what the kernel
// itself takes (a USB transfer: 2 s; a bad answer on 1-wire: 1.9 s, asked
// twice), with room for a busy host; the way back has the supervisor's pause of
// up to 10 s in it.
var faults = []fault{
	{
		name: "loop wire off", begin: []string{"adc volts 1 0"}, end: []string{"adc sine 1 1.2 0.001 0.3"},
		hits: []string{"outlet_pressure"}, becomes: []string{"failed"}, within: 4 * time.Second, hold: time.Second, back: 6 * time.Second, note: "mA",
	},
	{
		name: "converter's supply dips", begin: []string{"adc brownout 20"},
		hits: converted, becomes: []string{"failed"}, within: 6 * time.Second, back: 15 * time.Second,
	},
	{
		name: "nobody at the address", begin: []string{"adc move 0x49"}, end: []string{"adc move 0x48"},
		hits: converted, becomes: []string{"failed"}, within: 5 * time.Second, hold: 2 * time.Second, back: 40 * time.Second,
	},
	{
		name: "bus stuck", begin: []string{"i2c stick"}, end: []string{"i2c release"},
		hits: converted, becomes: []string{"failed"}, within: 8 * time.Second, hold: 3 * time.Second, back: 40 * time.Second,
	},
	{
		name: "adapter unplugged", begin: []string{"i2c unplug"}, end: []string{"i2c plug"},
		hits: converted, becomes: []string{"failed"}, within: 5 * time.Second, hold: 2 * time.Second, back: 25 * time.Second,
	},
	{
		name: "thermometer's checksum", begin: []string{"wire crc 0 on"}, end: []string{"wire crc 0 off"},
		hits: []string{"water_temp"}, becomes: []string{"failed", "missing"}, within: 15 * time.Second, hold: time.Second, back: 40 * time.Second, note: "checksum",
	},
	{
		name: "thermometer pulled", begin: []string{"wire search on", "wire pull 0"}, end: []string{"wire push 0"}, after: []string{"wire search off"},
		hits: []string{"water_temp"}, becomes: []string{"failed", "missing"}, within: 15 * time.Second, hold: 3 * time.Second, back: 30 * time.Second, note: "wire off",
	},
	{
		name: "meter silent", breaks: meter.Silent,
		hits: metered, becomes: []string{"failed"}, within: 10 * time.Second, hold: 2 * time.Second, back: 40 * time.Second,
	},
	{
		name: "flood of pulses", begin: []string{"pin flood FLOW 1500"},
		hits: []string{"flow"}, becomes: []string{"suspect"}, within: 45 * time.Second, back: 60 * time.Second, note: "impossibly soon",
	},
}

// A host that is too busy lets the models answer late, and the converter's
// driver waits 250 ms for a transfer, which then costs a channel for nothing;
// and when the whole guest stands still for the outputs' keep_alive of 1 s, the
// relay drops, as it must. The guest's own measure tells these cases; only then
// a fault is tried again.
const (
	tooLate  = 60 * time.Millisecond
	standing = 700 * time.Millisecond
	tries    = 4
)

// endure goes through one fault. All the while the daemon ticks, every channel
// that the fault doesn't touch is good, none shows a made-up value as good, and
// the relay holds.
func (d *daemon) endure(f fault) {
	d.t.Helper()
	for try := 1; ; try++ {
		d.lag()
		why := d.breakAndMend(f)
		dropped := d.do("pin value RELAY") == "0"
		if why == "" && !dropped {
			break
		}
		late := d.lag()
		require.True(d.t, try < tries && late > tooLate, "during %q: %s; the guest was late by %v at most", f.name, why, late)
		require.True(d.t, !dropped || late > standing, "%q must not stop the machine; the guest was late by %v at most", f.name, late)
		d.t.Logf("%-24s doesn't count: the host is busy, the guest was late by %v; relay dropped: %v; %s", f.name+":", late, dropped, why)
		if dropped {
			d.release()
		}
	}
	d.all(f.after)
}

// lag returns how late the guest's models were since it was asked last.
func (d *daemon) lag() time.Duration {
	d.t.Helper()
	ms, err := strconv.Atoi(d.do("guest lag"))
	require.NoError(d.t, err)
	return time.Duration(ms) * time.Millisecond
}

// breakAndMend does it once and returns which channel that isn't the fault's
// own faltered meanwhile; all else fails the test.
func (d *daemon) breakAndMend(f fault) (faltered string) {
	d.t.Helper()
	before := d.look()
	note := func(s seen) { faltered = cmp.Or(faltered, d.othersWrong(f, s)) }
	d.all(f.begin)
	d.meter.Break(f.breaks)
	begun, lost := d.look(), map[string]shown{}
	shows := d.await(f.within, func(s seen) string { note(s); return d.collect(f, s, lost) })
	d.await(f.hold+time.Minute, func(s seen) string {
		note(s)
		for _, c := range f.hits {
			require.True(d.t, f.hold == 0 || s.channels[c].status != "good", "%s: %s", f.name, c)
		}
		return unless(s.at-shows.at >= f.hold, "holding")
	})
	d.all(f.end)
	d.meter.Break(meter.Healthy)
	ended := d.look()
	back := d.await(f.back, func(s seen) string { note(s); return d.allWrong(s) })
	first := lost[f.hits[0]]
	ticks, span := back.seq-before.seq, (back.at - before.at).Seconds()
	require.Greater(d.t, float64(ticks), 5*span, "ten ticks a second, half of them on a busy host")
	d.t.Logf("%-24s %s after %.1f s (%q); good again %.1f s after its end; %.1f ticks/s, %d restarts of drivers",
		f.name+":", first.status, (shows.at - begun.at).Seconds(), first.note, (back.at - ended.at).Seconds(), float64(ticks)/span, back.restarts-before.restarts)
	return faltered
}

// collect keeps what the fault's channels became, and says what is missing. A
// busy host may first show the first of them with another reason, as of a
// transfer that was late.
func (d *daemon) collect(f fault, s seen, lost map[string]shown) string {
	missing := ""
	for i, c := range f.hits {
		if now := s.channels[c]; slices.Contains(f.becomes, now.status) && (i > 0 || strings.Contains(now.note, f.note)) {
			lost[c] = now
		}
		if _, known := lost[c]; !known {
			missing = fmt.Sprintf("%s doesn't show in %s: %s %s", f.name, c, s.channels[c].status, s.channels[c].note)
		}
	}
	return missing
}

func (d *daemon) all(commands []string) {
	d.t.Helper()
	for _, c := range commands {
		d.do("%s", c)
	}
}

// othersWrong names a channel that isn't the fault's own and isn't as it
// should be. A channel of its own that shows a false value as good fails the
// test at once.
func (d *daemon) othersWrong(f fault, s seen) (faltered string) {
	d.t.Helper()
	for c := range d.want {
		w, ours := d.wrong(s, c), slices.Contains(f.hits, c)
		if ours && c != "flow" && s.channels[c].status == "good" {
			require.Empty(d.t, w, "a made-up value during %s", f.name)
		}
		if !ours {
			faltered = cmp.Or(faltered, w)
		}
	}
	return faltered
}
