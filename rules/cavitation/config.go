package cavitation

import (
	"fmt"
	"math"
)

// Limit holds the two thresholds of a sign in its own unit. Where Strong lies
// below Speaks, the sign speaks by falling.
type Limit struct {
	// Speaks is where the sign starts to count and Strong where it counts in
	// full.
	Speaks, Strong float64
}

// Config holds the thresholds, one Limit for each sign, and the inlet pressure
// that tells a starved pump from the others.
type Config struct {
	// Limits is indexed by Item.
	Limits [NumItems]Limit
	// InletLowGaugePa is the mean inlet gauge pressure in Pa at and below which
	// the supply is called low, -100e3 to 1e6.
	InletLowGaugePa float64
	// CoolMarginM is the margin in m that the same pressures must give with
	// cool water before warm water is blamed, 0 to 100.
	CoolMarginM float64
}

// DefaultConfig returns thresholds to start with. Those marked judgement have
// no source and are to be set on the machine at hand.
func DefaultConfig() Config {
	c := Config{
		// 10 psi. Judgement; a supply that feeds the pump leaves more than this
		// behind the hose. Common practice, no source.
		InletLowGaugePa: 69e3,
		// The margin that is wanted, see suction.DefaultWanted.
		CoolMarginM: 1.5,
	}
	// 1.5 m is the margin that is wanted by guidance borrowed from rotodynamic
	// pumps (a public page on NPSH margins); at 0 the pump has lost 3 percent of
	// its capacity by the definition of NPSHR for reciprocating pumps
	// (Hydraulic Institute, from memory).
	c.Limits[NPSHMargin] = Limit{Speaks: 1.5, Strong: 0}
	// 10 K is what a hose in the sun or a minute on bypass adds; judgement.
	// At 0 K the margin is gone by definition.
	c.Limits[TempHeadroom] = Limit{Speaks: 10, Strong: 0}
	// The 3 percent of NPSHR's definition and as much again for the flow meter
	// and the speed; 15 percent is judgement.
	c.Limits[FlowDeficit] = Limit{Speaks: 0.06, Strong: 0.15}
	// Twice the own baseline (6 dB) is a change that a person hears; judgement.
	c.Limits[FlowSwing] = Limit{Speaks: 2, Strong: 4}
	// Motor power follows flow at one outlet pressure; a tenth is beyond what
	// the line voltage's usual swing makes. Judgement.
	c.Limits[CurrentDrop] = Limit{Speaks: 0.10, Strong: 0.25}
	c.Limits[CurrentSwing] = Limit{Speaks: 2, Strong: 4}
	// As FlowSwing; judgement.
	c.Limits[PulsationRise] = Limit{Speaks: 2, Strong: 4}
	// Against the absolute mean, for a pump without a baseline. A swing of
	// RMS 0.2 of the mean takes a sine's troughs down to 0.7 of it;
	// judgement.
	c.Limits[PulsationDepth] = Limit{Speaks: 0.2, Strong: 0.4}
	// ISO 20816 counts as a significant change a quarter of a zone's upper
	// limit, from memory; a small pump's hose and gun shake it more than that,
	// so twice the own baseline. Judgement.
	c.Limits[VibrationRise] = Limit{Speaks: 2, Strong: 4}
	return c
}

// falling says whether a sign speaks by falling.
func (i Item) falling() bool { return i == NPSHMargin || i == TempHeadroom }

// bounds are the values within which a sign's reading is a reading; beyond
// them it is a broken sensor or a wrong unit.
func (i Item) bounds() (low, high float64) {
	switch i {
	case NPSHMargin:
		return -1e4, 1e4
	case TempHeadroom:
		return -500, 500
	case FlowDeficit, CurrentDrop:
		return -10, 1
	case PulsationDepth:
		return 0, 10
	}
	return 0, 1e4
}

// validate returns an error that names the first threshold out of its range.
func (c Config) validate() error {
	for n, l := range c.Limits {
		i := Item(n)
		low, high := i.bounds()
		if !between(l.Speaks, low, high) || !between(l.Strong, low, high) {
			return fmt.Errorf("cannot use the thresholds %g and %g of %s: give values from %g to %g",
				l.Speaks, l.Strong, i, low, high)
		}
		if i.falling() && !(l.Strong < l.Speaks) {
			return fmt.Errorf("cannot use the thresholds %g and %g of %s: strong must be below speaks", l.Speaks, l.Strong, i)
		}
		if !i.falling() && !(l.Strong > l.Speaks) {
			return fmt.Errorf("cannot use the thresholds %g and %g of %s: strong must be above speaks", l.Speaks, l.Strong, i)
		}
	}
	if !between(c.InletLowGaugePa, -100e3, 1e6) {
		return fmt.Errorf("cannot use %g Pa as low inlet pressure: give -100e3 to 1e6", c.InletLowGaugePa)
	}
	if !between(c.CoolMarginM, 0, 100) {
		return fmt.Errorf("cannot use %g m as margin with cool water: give 0 to 100", c.CoolMarginM)
	}
	return nil
}

// between says whether x is a number from low to high; NaN is none.
func between(x, low, high float64) bool { return x >= low && x <= high && !math.IsNaN(x) }
