package pulse

import (
	"errors"
	"fmt"
	"math"
)

// KPoint is one point of a meter's calibration: at that pulse rate, that many
// pulses stand for a cubic metre. (450 pulses per litre are 450 000 per m3.)
type KPoint struct {
	// Hz is the pulse rate in 1/s, at least 0.
	Hz float64
	// PulsesPerM3 is the K-factor there, above 0.
	PulsesPerM3 float64
}

// KTable is a meter's calibration, by rising rate. One point alone is a
// K-factor for all rates.
type KTable []KPoint

// Check tells what is wrong with the table; nil for a good one. Besides wrong
// numbers it refuses a K-factor that rises so steeply that a higher pulse rate
// would mean less flow.
func (k KTable) Check() error {
	if len(k) == 0 {
		return errors.New("the K-factor table is empty: give at least one point")
	}
	for i, p := range k {
		if !finite(p.Hz) || p.Hz < 0 || !finite(p.PulsesPerM3) || p.PulsesPerM3 <= 0 {
			return fmt.Errorf("point %d of the K-factor table (%g Hz, %g pulses per m3) must have a rate of at least 0 and a K-factor above 0", i+1, p.Hz, p.PulsesPerM3)
		}
		if i == 0 {
			continue
		}
		before := k[i-1]
		if p.Hz <= before.Hz {
			return fmt.Errorf("point %d of the K-factor table has %g Hz after %g Hz: sort the points by rising rate", i+1, p.Hz, before.Hz)
		}
		slope := (p.PulsesPerM3 - before.PulsesPerM3) / (p.Hz - before.Hz)
		if !finite(slope) || before.PulsesPerM3-slope*before.Hz <= 0 {
			return fmt.Errorf("between points %d and %d of the K-factor table the flow would fall while the pulse rate rises: check both K-factors", i, i+1)
		}
	}
	return nil
}

// Flow returns the flow in m3/s at a pulse rate. The K-factor is interpolated
// between points; beyond the ends it is the end's, and clamped is true. A table
// of one point clamps nothing, and a rate of 0 is a flow of 0 by any table.
func (k KTable) Flow(hz float64) (flowM3s float64, clamped bool) {
	factor, clamped := k.factor(hz)
	return hz / factor, clamped && hz > 0
}

func (k KTable) factor(hz float64) (pulsesPerM3 float64, clamped bool) {
	last := k[len(k)-1]
	switch {
	case len(k) == 1:
		return last.PulsesPerM3, false
	case hz < k[0].Hz:
		return k[0].PulsesPerM3, true
	case hz >= last.Hz:
		return last.PulsesPerM3, hz > last.Hz
	}
	i := 1
	for hz >= k[i].Hz {
		i++
	}
	a, b := k[i-1], k[i]
	share := (hz - a.Hz) / (b.Hz - a.Hz)
	return a.PulsesPerM3 + float64(share*(b.PulsesPerM3-a.PulsesPerM3)), false
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
