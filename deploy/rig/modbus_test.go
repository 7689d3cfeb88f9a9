//go:build rig

package rig

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/rig/meter"
)

// The meter's driver on the kernel's serial port, with a meter that fails in
// every way a line can.
func TestModbusDriver(t *testing.T) {
	for _, port := range []struct {
		kind   string
		dongle bool
	}{{"modbus", false}, {"dongle", true}} {
		t.Run(port.kind, func(t *testing.T) {
			m := meter.New(1)
			m.SetFloat(0, 230.5)
			m.Set(16, 123)
			g := bootWith(t, Options{Serial: m.Serve, Dongle: port.dongle})
			g.drive(port.kind)
			g.log("good", g.until(10*time.Second, "supply_voltage", "good", 230.5, 0.01))
			g.log("good", g.until(10*time.Second, "motor_current", "good", 12.3, 0.001))
			g.breakMeter(m, port.dongle)
			g.end()
		})
	}
}

// breakMeter goes through the faults: each must show as a status, and each end.
func (g *guest) breakMeter(m *meter.Meter, short bool) {
	g.t.Helper()
	faults := []struct {
		name  string
		fault meter.Fault
	}{
		{"silent", meter.Silent}, {"garbage", meter.Garbage}, {"wrong check sum", meter.BadSum},
		{"half an answer", meter.Short}, {"busy", meter.Busy}, {"another unit answers", meter.OtherUnit},
	}
	if short && !*long {
		faults = faults[:2]
	}
	for _, f := range faults {
		m.Break(f.fault)
		bad := g.until(10*time.Second, "supply_voltage", "failed", 0, 0)
		g.log(f.name, bad)
		m.Break(meter.Healthy)
		back := g.until(30*time.Second, "supply_voltage", "good", 230.5, 0.01)
		g.t.Logf("%-34s good again %.1f s after the fault showed", f.name+" ends:", (back.at - bad.at).Seconds())
	}
	m.Break(meter.Echo)
	m.SetFloat(0, 110)
	g.log("a line that echoes", g.until(10*time.Second, "supply_voltage", "good", 110, 0.01))
	m.Break(meter.Healthy)
	m.Delay(250 * time.Millisecond)
	m.SetFloat(0, 120)
	g.log("answers after 250 ms", g.until(10*time.Second, "supply_voltage", "good", 120, 0.01))
	m.Delay(0)
	require.Positive(g.t, m.Requests())
}
