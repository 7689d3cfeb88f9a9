package convert

import (
	"fmt"

	"headroom/rules/circuit"
	"headroom/rules/frame"
)

// Transformer is a current transformer with its burden. Unlike the other kinds
// it is read in blocks: SampleA turns each sample into an instantaneous
// current and Judge turns a block's true RMS into a result. It tells BiasOff
// (plug or bias resistor off, or a short of the mid-point), OverRange,
// TooFewSamples and NoNumber. A secondary wire off behind a good bias, or a
// short across the burden, reads as no current and can NOT be told from a
// motor that is off: the rules compare it with Running.
//
// Caution: a transformer whose secondary is a current must never run without
// its burden. The burden belongs across the transformer, ahead of any plug.
type Transformer struct {
	// Ratio is primary by secondary current, 2000 for 100 A : 50 mA. For a
	// transformer with its burden inside, rated in V, give the primary current
	// per volt here and a BurdenOhm of 1. Range 1 to 1e5.
	Ratio float64
	// BurdenOhm is the burden, 0.1 to 1000 ohm.
	BurdenOhm float64
	// Turns is how often the conductor passes through; 0 means 1, up to 100.
	Turns int
	// BiasV is the mid-point to which the secondary is lifted, 0 for a
	// differential input.
	BiasV float64
	// BiasTolV is how far the mean may be from BiasV; 0 means 0.1 V.
	BiasTolV float64
	// MaxPeakA is the largest instantaneous primary current in A for which
	// transformer and input are linear, for example the square root of 2 times
	// the rating. The inrush of a starting motor lies beyond it and reads as
	// OverRange, with the least that flows, for as long as it lasts.
	MaxPeakA float64
}

func (t Transformer) voltPerA() float64 {
	return t.BurdenOhm / t.Ratio * float64(max(t.Turns, 1))
}

// SampleA returns the instantaneous primary current in A at voltV at the
// terminals. Source: ideal transformer and Ohm's law.
func (t Transformer) SampleA(voltV float64) float64 {
	return (voltV - t.BiasV) / t.voltPerA()
}

// Judge turns a block into the RMS current in A without its direct part, which
// is the bias and no current. A block that is OverRange keeps its RMS as the
// least that flows: a core that saturates and an input that clips only ever
// show less. Source: definition of clipping.
func (t Transformer) Judge(w circuit.Wave) Result {
	switch w.Status {
	case circuit.WaveOK:
	case circuit.WaveTooShort, circuit.WaveBadRate:
		return bad(frame.Failed, TooFewSamples, 0, UnitNone)
	default:
		return bad(frame.Failed, NoNumber, 0, UnitNone)
	}
	tol := t.BiasTolV
	if tol == 0 {
		tol = defaultBiasTolV
	}
	if offV := w.MeanA * t.voltPerA(); !(offV <= tol && offV >= -tol) {
		return bad(frame.Failed, BiasOff, t.BiasV+offV, UnitVolt)
	}
	if w.PeakA > t.MaxPeakA {
		r := bad(frame.OutOfBand, OverRange, w.PeakA, UnitPrimary)
		if finite(w.ACRMSA) {
			r.Value = w.ACRMSA
		}
		return r
	}
	return good(w.ACRMSA, w.ACRMSA, UnitPrimary)
}

const defaultBiasTolV = 0.1

// InputV is the range of terminal voltages that must be measurable.
func (t Transformer) InputV() (lo, hi float64) {
	swing := 1.02 * t.MaxPeakA * t.voltPerA()
	return t.BiasV - swing, t.BiasV + swing
}

// Validate says what is wrong with the options and how to mend it.
func (t Transformer) Validate() error {
	switch {
	case !(t.Ratio >= 1 && t.Ratio <= 1e5):
		return fmt.Errorf("a transformer ratio of %v can't be: give primary by secondary current, for example 2000", t.Ratio)
	case !(t.BurdenOhm >= 0.1 && t.BurdenOhm <= 1000):
		return fmt.Errorf("a burden of %v ohm can't be: give 0.1 to 1000 ohm", t.BurdenOhm)
	case t.Turns < 0 || t.Turns > 100:
		return fmt.Errorf("a conductor can't pass %d times through a transformer: give 1 to 100", t.Turns)
	case !(t.BiasV >= 0 && t.BiasV <= 5):
		return fmt.Errorf("a mid-point of %v V can't be: give 0 for a differential input, or half of the supply", t.BiasV)
	case !(t.BiasTolV >= 0 && t.BiasTolV <= 1):
		return fmt.Errorf("a tolerance of %v V for the mid-point can't be: give 0 to 1 V", t.BiasTolV)
	case !(t.MaxPeakA > 0 && t.MaxPeakA <= circuit.MaxSampleA):
		return fmt.Errorf("a largest peak of %v A can't be: give the root of 2 times the transformer's rating", t.MaxPeakA)
	}
	return nil
}
