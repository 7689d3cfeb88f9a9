//go:build rig

package rig

import (
	"math"
	"testing"
	"time"
)

// An input that is sampled in blocks through the real kernel: mean and
// pulsation of the inlet's pressure. 2 V are 400 kPa, and 0.3 V of peak at 5 Hz
// are 120 kPa, so by definition of the RMS 84.9 kPa. Without the sine there is
// no pulsation, and a converter that is gone is a fault on both channels.
func TestBlocksOfSamples(t *testing.T) {
	g := boot(t)
	g.do("adc sine 2 2 0.3 5")
	g.do("i2c plug")
	g.drive("block")
	const mean, pulsation = "inlet_pressure", "inlet_pulsation"
	g.log("400 kPa, 120 kPa peak", g.until(30*time.Second, pulsation, "good", 120e3/math.Sqrt2, 2e3))
	g.log("its mean", g.until(10*time.Second, mean, "good", 400e3, 4e3))
	g.do("adc volts 2 2.5")
	g.log("none", g.until(20*time.Second, pulsation, "good", 0, 200))
	g.log("its mean", g.until(10*time.Second, mean, "good", 600e3, 400))
	g.do("adc move 0x49")
	g.log("nobody at the address", g.until(20*time.Second, pulsation, "failed", 0, 0))
	g.until(20*time.Second, mean, "failed", 0, 0)
	g.do("adc move 0x48")
	g.log("back", g.until(40*time.Second, mean, "good", 600e3, 400))
	g.end()
}
