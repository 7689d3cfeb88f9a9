package rig

import (
	"fmt"
	"math/rand/v2"

	"headroom/sensors/plant"
)

// Condition is what state a pump is in.
type Condition string

// The conditions.
const (
	New         Condition = "new"
	WornValves  Condition = "worn-valves"
	WornPacking Condition = "worn-packing"
	BeltSlips   Condition = "slipping-belt"
	WrongNozzle Condition = "wrong-nozzle"
	BadSensor   Condition = "bad-sensor"
)

// Conditions lists them all.
func Conditions() []Condition {
	return []Condition{New, WornValves, WornPacking, BeltSlips, WrongNozzle, BadSensor}
}

// Truth is what is so with one pump and its surroundings.
type Truth struct {
	Condition Condition
	// ValveWear and PackingWear are shares of the rated flow lost at rated
	// pressure, BeltSlip of the speed lost at rated torque; NozzleScale is the
	// own nozzle's area against the right one.
	ValveWear, PackingWear, BeltSlip, NozzleScale float64
	// UnloaderTurn is the unloader's setting against the right one.
	UnloaderTurn float64
	// LeakM2 is a hole that lets the standing outlet's pressure off.
	LeakM2 float64
	// NPSHScale is the head that the pump requires against its plate's.
	NPSHScale float64
	// WaterK and AirK are the temperatures.
	WaterK, AirK float64
}

// Draw makes a pump in a condition; the amounts differ from pump to pump.
func Draw(c Condition, rng *rand.Rand) (Truth, error) {
	in := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	t := Truth{
		Condition: c, NozzleScale: in(0.97, 1.03), UnloaderTurn: in(0.97, 1.03), LeakM2: in(0.2e-10, 1.2e-10), NPSHScale: in(0.9, 1.1),
		WaterK: in(281, 298), AirK: in(283, 303), PackingWear: in(0, 0.002), ValveWear: in(-0.01, 0.01),
	}
	switch c {
	case New, BadSensor:
	case WornValves:
		t.ValveWear, t.LeakM2, t.NPSHScale = in(0.02, 0.3), in(1e-10, 8e-10), in(1, 1.5)
	case WornPacking:
		t.PackingWear = in(0.01, 0.12)
	case BeltSlips:
		t.BeltSlip = in(0.01, 0.15)
	case WrongNozzle:
		t.NozzleScale = in(1.05, 1.3)
		if rng.Float64() < 0.5 {
			t.NozzleScale = in(0.96, 0.99) * 0.97
		}
	default:
		return Truth{}, fmt.Errorf("there is no condition %q: choose one of %v", c, Conditions())
	}
	return t, nil
}

// machine is the plant's configuration for a truth: the invented machine of
// plant.Typical with a larger motor, so that it reaches its plate's pressure.
func (t *Truth) machine() plant.Config {
	c := plant.Typical()
	c.Pump.NPSHRequiredM *= t.NPSHScale
	// The plant's valves never seal better than its slip; a little wear below
	// 0 is a little less of it.
	c.Pump.SlipShare += min(t.ValveWear, 0)
	c.Circuit.BreakerA = 40
	c.Drive.R1, c.Drive.X1, c.Drive.R2, c.Drive.X2 = 0.32, 0.5, 0.22, 0.45
	c.Outlet.HoseLengthM = 15
	return c
}
