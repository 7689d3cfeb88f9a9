package parts

import (
	"math"
	"time"
)

// Wave is a voltage over time: Mean, plus a sine of Amplitude (its peak) and
// Hz, from the model's start. The zero value is 0 V.
type Wave struct {
	Mean, Amplitude, Hz float64
}

// At returns the voltage at time t, V.
func (w Wave) At(t time.Duration) float64 {
	return w.Mean + w.Amplitude*math.Sin(2*math.Pi*w.Hz*t.Seconds())
}
