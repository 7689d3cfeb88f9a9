package circuit

import "math"

// The ranges of RMS.
const (
	// MinMainsHz and MaxMainsHz bound the mains frequency: 50 or 60 Hz and a
	// generator's drift.
	MinMainsHz = 45.0
	MaxMainsHz = 66.0
	// MinPerCycle is the smallest number of samples per mains cycle. It keeps
	// the fifth harmonic below half of the sample rate.
	MinPerCycle = 12.0
	// MaxSampleA is the largest magnitude of a sample in amperes.
	MaxSampleA = 1e6
)

// WaveStatus says whether a Wave can be used.
type WaveStatus uint8

// The statuses.
const (
	// WaveUnknown is the status of the zero Wave.
	WaveUnknown WaveStatus = iota
	// WaveOK: the values hold.
	WaveOK
	// WaveTooShort: the block holds no whole mains cycle.
	WaveTooShort
	// WaveBadRate: the mains frequency is out of range, or the sample rate is
	// below MinPerCycle per cycle or no number.
	WaveBadRate
	// WaveBadSample: a sample is no number or beyond MaxSampleA.
	WaveBadSample
)

// String returns the status as an identifier, not as text for the user.
func (s WaveStatus) String() string {
	switch s {
	case WaveOK:
		return "ok"
	case WaveTooShort:
		return "too-short"
	case WaveBadRate:
		return "bad-rate"
	case WaveBadSample:
		return "bad-sample"
	}
	return "unknown"
}

// Wave is what a block of current samples says, in amperes. Only a Wave with
// WaveOK has values; all others are 0.
type Wave struct {
	Status WaveStatus
	// RMSA is the true RMS with any direct current in it, ACRMSA without.
	RMSA, ACRMSA float64
	// MeanA is the direct current, or the offset of the sensor.
	MeanA float64
	// PeakA is the largest magnitude of a sample. The true peak of a sine is up
	// to 1/cos(pi/n) higher with n samples a cycle: 3.5 % at 12, 0.9 % at 24.
	PeakA float64
	// Crest is PeakA/RMSA: 1.414 for a sine; 0 without current.
	Crest float64
	// Cycles is the number of whole cycles used.
	Cycles int
	// MaxHarmonic is the highest harmonic below half of the sample rate.
	// Higher ones must be kept out by a filter ahead of the sampling: they are
	// folded down, not left out.
	MaxHarmonic int
}

// RMS measures the largest number of whole mains cycles that fits into samples,
// from its start, and ignores the rest. samples are instantaneous currents in
// amperes at rateHz samples per second; mainsHz is MinMainsHz to MaxMainsHz.
// Where the cycles end between two samples, the wave is taken as periodic and
// the last interval as a trapezoid, which costs a sine less than 0.15 % divided
// by the number of cycles at 12 samples a cycle, and nothing where the rate is
// a whole multiple of the mains. It is a pure function and does not allocate.
// A power-quality meter uses windows of 10 cycles at 50 Hz and 12 at 60 Hz
// (IEC 61000-4-30, from memory), which suits here too.
// Source: definition of the root mean square; trapezoidal rule.
func RMS(samples []float64, rateHz, mainsHz float64) Wave {
	perCycle := rateHz / mainsHz
	if !(mainsHz >= MinMainsHz && mainsHz <= MaxMainsHz) || !(perCycle >= MinPerCycle && perCycle <= 1e9) {
		return Wave{Status: WaveBadRate}
	}
	w, ok := fitWindow(len(samples), perCycle)
	if !ok {
		return Wave{Status: WaveTooShort}
	}
	used := samples[:w.n]
	peak, ok := peakOf(used)
	if !ok {
		return Wave{Status: WaveBadSample}
	}
	mean := w.mean(used)
	ms := w.meanSquare(used, mean)
	r := Wave{
		Status: WaveOK, MeanA: mean, PeakA: peak,
		ACRMSA: math.Sqrt(ms), RMSA: math.Sqrt(ms + float64(mean*mean)),
		Cycles: w.cycles, MaxHarmonic: int(math.Min(math.Ceil(perCycle/2)-1, 1e6)),
	}
	if r.RMSA > 0 && peak/r.RMSA <= MaxSampleA {
		r.Crest = peak / r.RMSA
	}
	return r
}

// window is a span of whole cycles over samples: n samples are used, each with
// weight 1 but for the first and the last, which have weight end.
type window struct {
	n, cycles  int
	end, total float64
}

// fitWindow finds the most whole cycles that n samples hold.
func fitWindow(n int, perCycle float64) (window, bool) {
	for c := math.Floor(float64(n) / perCycle); c >= 1; c-- {
		length := float64(c * perCycle)
		whole := math.Floor(length + 1e-6)
		part := length - whole
		if part <= 1e-6 {
			// The sample at the end equals the one at the start: leave it out.
			return window{n: int(whole), cycles: int(c), end: 1, total: whole}, true
		}
		if int(whole) < n {
			return window{n: int(whole) + 1, cycles: int(c), end: (1 + part) / 2, total: length}, true
		}
	}
	return window{}, false
}

// mean is the weighted mean of the samples.
func (w window) mean(x []float64) float64 {
	sum := float64(w.end*x[0]) + float64(w.end*x[w.n-1])
	for _, v := range x[1 : w.n-1] {
		sum += v
	}
	return sum / w.total
}

// meanSquare is the weighted mean of the squares about mean.
func (w window) meanSquare(x []float64, mean float64) float64 {
	first, last := x[0]-mean, x[w.n-1]-mean
	sum := float64(w.end*float64(first*first)) + float64(w.end*float64(last*last))
	for _, v := range x[1 : w.n-1] {
		d := v - mean
		sum += float64(d * d)
	}
	return sum / w.total
}

// peakOf returns the largest magnitude; ok=false for a sample out of range.
func peakOf(x []float64) (float64, bool) {
	peak := 0.0
	for _, v := range x {
		a := math.Abs(v)
		if !(a <= MaxSampleA) {
			return 0, false
		}
		peak = math.Max(peak, a)
	}
	return peak, true
}
