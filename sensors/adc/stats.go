package adc

import (
	"time"

	"headroom/rules/circuit"
	"headroom/sensors/convert"
)

// Stats is what has been measured of one input, for diagnosis and metrics.
type Stats struct {
	// Input is its name, Chip the address of its converter.
	Input string
	Chip  uint16
	// RateHz is the achieved rate: of scans for a plain input, smoothed, or of
	// samples in the last block.
	RateHz float64
	// Conversions counts codes; Repeats those that equal the one before. A
	// slow signal repeats rightly; in a block of a live current more than a
	// tenth means that the chip is slower than its data sheet allows.
	Conversions, Repeats uint64
	// Saturated counts codes at the end of the range, Resets settings found
	// lost, Endless conversions that didn't end, Errors failed transfers.
	Saturated, Resets, Endless, Errors uint64
	// Late counts scans that began later than a tenth of the period.
	Late uint64
	// Blocks counts whole blocks and Uneven those thrown away since their
	// samples didn't come evenly.
	Blocks, Uneven uint64
	// Wave is the last block of a current: its Crest and PeakA, and the highest
	// harmonic that counts. Its PeakA is that of the samples.
	Wave circuit.Wave
	// Pulse is the last block without a transformer.
	Pulse convert.Pulse
	// NyquistHz is half of the rate of a block: nothing above it is measured.
	NyquistHz float64
}

// smoothing is the weight of the newest interval in RateHz.
const smoothing = 0.1

func (s *Stats) converted(repeat, saturated bool, since time.Duration, seen bool) {
	s.Conversions++
	if repeat {
		s.Repeats++
	}
	if saturated {
		s.Saturated++
	}
	if !seen || since <= 0 {
		return
	}
	hz := 1 / since.Seconds()
	if s.RateHz == 0 {
		s.RateHz = hz
	}
	s.RateHz += smoothing * (hz - s.RateHz)
}

func (s *Stats) sampled(b *block, uneven bool) {
	s.Blocks++
	s.Conversions += uint64(b.n)
	s.Repeats += uint64(b.repeats)
	if b.saturated {
		s.Saturated++
	}
	if uneven {
		s.Uneven++
	}
	s.RateHz = b.rateHz()
	s.NyquistHz = s.RateHz / 2
}

// count changes an input's statistics.
func (d *Driver) count(in *input, change func(*Stats)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	change(&in.stats)
}

// Stats returns a copy of every input's statistics, in the order of Options
// but for supplies first and blocks last on each chip. Safe while Run runs.
func (d *Driver) Stats() []Stats {
	d.mu.Lock()
	defer d.mu.Unlock()
	out := make([]Stats, len(d.inputs))
	for i, in := range d.inputs {
		out[i] = in.stats
	}
	return out
}
