package convert

import "math"

// Pulse is what a block of evenly spaced samples says of a quantity's fast
// part, all in the samples' own unit.
type Pulse struct {
	// RMS of the samples about the straight line through them, so that a slow
	// change of the quantity itself doesn't count as pulsation.
	RMS float64
	// Mean of the samples.
	Mean float64
	// Peak is the largest distance from the line. The line tilts a little with
	// the phase at which the block begins, which moves the peak of k cycles by
	// up to 1.5/k of itself.
	Peak float64
}

// minPulse is the fewest samples that Pulsation takes.
const minPulse = 16

// Pulsation measures the fast part of samples. ok is false with fewer than 16
// samples or one that is no number. A pulsation of which the block holds k
// cycles, not whole, is off by up to 1/(4 pi k) in its square: take blocks of
// ten cycles and more for 1 %. It doesn't allocate. Source: definition of the
// root mean square; least squares for the line.
func Pulsation(samples []float64) (p Pulse, ok bool) {
	n := float64(len(samples))
	if len(samples) < minPulse {
		return Pulse{}, false
	}
	sum, moment := 0.0, 0.0
	mid := (n - 1) / 2
	for i, v := range samples {
		sum += v
		moment += (float64(i) - mid) * v
	}
	mean := sum / n
	slope := moment / (n * (n*n - 1) / 12)
	square := 0.0
	for i, v := range samples {
		d := v - mean - slope*(float64(i)-mid)
		square += d * d
		p.Peak = math.Max(p.Peak, math.Abs(d))
	}
	p.Mean, p.RMS = mean, math.Sqrt(square/n)
	if !finite(p.RMS) || !finite(p.Mean) || !finite(p.Peak) {
		return Pulse{}, false
	}
	return p, true
}

// FilterGain is the share of a sine of hz that passes a converter which
// averages over the whole time between two of its rateHz samples; 1 at 0 Hz,
// 0.992 at 60 Hz and 860 samples a second, 0.64 at half of the sample rate. It
// tells which harmonics count and isn't used to correct anything: a
// calibration at working current takes the fundamental's share out. ok is
// false at and beyond half of the sample rate, where a sine is folded down
// instead of measured. Source: transfer function of a moving average,
// sin(x)/x; that the converter averages so is from memory.
func FilterGain(hz, rateHz float64) (gain float64, ok bool) {
	if !(hz >= 0 && rateHz > 0 && hz < rateHz/2) {
		return 0, false
	}
	x := math.Pi * hz / rateHz
	if x < 1e-8 {
		return 1, true
	}
	return math.Sin(x) / x, true
}
