package convert

import (
	"fmt"

	"headroom/rules/frame"
)

// Feed is how a resistive sensor is turned into a voltage.
type Feed uint8

// The feeds.
const (
	// PullUp: supply, reference resistor, input, sensor, ground. An open
	// sensor reads the supply.
	PullUp Feed = iota
	// PullDown: supply, sensor, input, reference resistor, ground. An open
	// sensor reads 0.
	PullDown
	// CurrentSource: a constant current through the sensor to ground.
	CurrentSource
)

// Circuit is the wiring of a resistive sensor with two wires. The resistance
// of the leads is stated and taken off; a three- or four-wire sensor on a
// current source measures without it, with LeadOhm 0. The reference resistor
// or the current should be such that self-heating stays small: below 0.1 mW in
// the sensor, common practice, no source.
type Circuit struct {
	// Feed says which way round.
	Feed Feed
	// ReferenceOhm is the divider's fixed resistor, 10 ohm to 10 Mohm.
	ReferenceOhm float64
	// SupplyV feeds the divider, 1 to 36 V. 0 means that it is measured on an
	// input of its own (Signal.RefV), which takes its drift out.
	SupplyV float64
	// CurrentA is the constant current, 1 uA to 20 mA; for CurrentSource.
	CurrentA float64
	// LeadOhm is the resistance of both leads together, 0 to 100 ohm.
	LeadOhm float64
}

// minFeedV is the least supply from which a divider is believed.
const minFeedV = 1.0

// NeedsReference implements that part of Converter.
func (c Circuit) NeedsReference() bool { return c.Feed != CurrentSource && c.SupplyV == 0 }

// ohm returns the sensor's resistance without its leads. A bad result has a
// reason; its Signal is the voltage. Source: voltage divider, Ohm's law.
func (c Circuit) ohm(s Signal) (ohm float64, fault Result) {
	if !finite(s.VoltV) {
		return 0, bad(frame.Failed, NoNumber, 0, UnitNone)
	}
	if c.Feed == CurrentSource {
		return c.lead(s.VoltV/c.CurrentA, s.VoltV)
	}
	supplyV := c.SupplyV
	if supplyV == 0 {
		if !s.RefOK || !finite(s.RefV) {
			return 0, bad(frame.Failed, NoReference, 0, UnitNone)
		}
		supplyV = s.RefV
	}
	if supplyV < minFeedV {
		return 0, bad(frame.Failed, ReferenceLow, supplyV, UnitVolt)
	}
	// across is the voltage over the sensor, rest over the fixed resistor.
	across, rest := s.VoltV, supplyV-s.VoltV
	if c.Feed == PullDown {
		across, rest = rest, across
	}
	if rest <= 1e-5*supplyV {
		return 0, bad(frame.Failed, SensorOpen, s.VoltV, UnitVolt)
	}
	return c.lead(c.ReferenceOhm*across/rest, s.VoltV)
}

func (c Circuit) lead(total, voltV float64) (float64, Result) {
	if r := total - c.LeadOhm; r > 0 {
		return r, Result{}
	}
	return 0, bad(frame.Failed, SensorShort, voltV, UnitVolt)
}

// inputV is the range of voltages with a sensor between 0 and openOhm.
func (c Circuit) inputV(openOhm float64) (lo, hi float64) {
	if c.Feed == CurrentSource {
		return 0, c.CurrentA * (openOhm + c.LeadOhm) * 1.01
	}
	if c.SupplyV == 0 {
		return 0, defaultMaxSupplyV
	}
	return 0, c.SupplyV * 1.01
}

func (c Circuit) validate() error {
	if !(c.LeadOhm >= 0 && c.LeadOhm <= 100) {
		return fmt.Errorf("leads of %v ohm can't be: give 0 to 100 ohm for both together", c.LeadOhm)
	}
	switch c.Feed {
	case CurrentSource:
		if !(c.CurrentA >= 1e-6 && c.CurrentA <= 20e-3) {
			return fmt.Errorf("a current of %v A through the sensor can't be: give 1e-6 to 0.02 A", c.CurrentA)
		}
		return nil
	case PullUp, PullDown:
	default:
		return fmt.Errorf("no such feed (%d): give pull-up, pull-down or current source", c.Feed)
	}
	if !(c.ReferenceOhm >= 10 && c.ReferenceOhm <= 1e7) {
		return fmt.Errorf("a reference resistor of %v ohm can't be: give 10 ohm to 10 Mohm", c.ReferenceOhm)
	}
	if c.SupplyV != 0 && !(c.SupplyV >= minFeedV && c.SupplyV <= 36) {
		return fmt.Errorf("a divider can't be fed from %v V: give 1 to 36 V, or 0 for a measured supply", c.SupplyV)
	}
	return nil
}
