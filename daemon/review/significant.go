package review

import (
	"math"
	"time"

	"headroom/rules/frame"
)

// worth is the least change of a channel that is worth telling: an amount in
// SI, and a share of the level it left, whichever is more. For all of them:
// common practice, no source; well above the sensors' noise and below what
// moves a rule from ample room to its limit.
type worth struct {
	least, share float64
	// slow quantities take minutes, so the search looks back over longer
	// spans and over changes of the machine's state.
	slow bool
}

// worths is constant data. Channels that are on or off, and barometer and
// second place of vibration, are not searched.
var worths = [frame.NumChannels]worth{
	frame.InletPressure:  {10e3, 0.10, false},
	frame.WaterTemp:      {2, 0, true},
	frame.Flow:           {0.4 / 60e3, 0.06, false},
	frame.MotorCurrent:   {0.8, 0.06, false},
	frame.OutletPressure: {300e3, 0.06, false},
	frame.ShaftSpeed:     {0.6, 0.03, false},
	frame.SupplyVoltage:  {3, 0, false},
	frame.Vibration:      {1, 0.4, false},
	frame.InletPulsation: {2e3, 0.5, false},
	frame.AmbientTemp:    {2, 0, true},
	frame.TankLevel:      {0.05, 0, true},
	frame.MotorTemp:      {4, 0, true},
}

// from returns the least change worth telling from a level.
func (w *worth) from(level float64) float64 { return math.Max(w.least, w.share*math.Abs(level)) }

// steadyFor is the stretch that counts as a level.
func (w *worth) steadyFor() time.Duration {
	if w.slow {
		return steadySlow
	}
	return steadyFast
}

// searched returns the channels that are searched for changes, in their order.
func searched() (out []frame.Channel) {
	for c := range frame.NumChannels {
		if worths[c].least > 0 {
			out = append(out, c)
		}
	}
	return out
}

// The lengths of the search. Common practice, no source.
const (
	// The stretch that counts as a level, for fast and for slow quantities.
	steadyFast, steadySlow = 4 * time.Second, 20 * time.Second
	// lookBack is how far before an alarm the search goes.
	lookBack = 15 * time.Minute
	// lookOn is how far after an alarm the end of a change is followed.
	lookOn = 20 * time.Second
	// around is half the span of the median that is the level at one moment.
	around = 500 * time.Millisecond
)
