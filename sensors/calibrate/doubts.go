package calibrate

import (
	"fmt"
	"math"

	"headroom/rules/frame"
)

// A calibration further off than these is asked about. Common practice, no
// source.
const (
	doubtGain  = 0.05 // of 1
	doubtShift = 0.05 // of the span of the points
)

// Doubts lists what a person should look at before saving a valid calibration;
// empty when nothing is odd. They are questions and no errors.
func (c *Calibration) Doubts() (out []string) {
	for i := 1; i < len(c.Points); i++ {
		a, b := c.Points[i-1], c.Points[i]
		if gain := (b.Reference - a.Reference) / (b.Raw - a.Raw); math.Abs(gain-1) > doubtGain {
			out = append(out, fmt.Sprintf("between points %d and %d the sensor is off by %.0f %% of its scale: is the range set for this sensor, and the reference in the right unit?", i, i+1, 100*(1/gain-1)))
		}
	}
	if n := len(c.Points); n >= 2 {
		span := c.Points[n-1].Reference - c.Points[0].Reference
		if shift := c.Points[0].Reference - c.Points[0].AsFound; math.Abs(shift) > doubtShift*span {
			out = append(out, fmt.Sprintf("the low point has moved by %.3g since the last calibration, %.0f %% of the span: is something wrong with the sensor?", shift, 100*math.Abs(shift)/span))
		}
	}
	for i, p := range c.Points {
		if p.Spread == 0 {
			out = append(out, fmt.Sprintf("the reading of point %d didn't move at all: is the sensor alive?", i+1))
		}
	}
	if ch, ok := frame.ByName(c.Channel); ok && len(c.Points) > 0 {
		lo, hi := c.Range()
		if blo, bhi := ch.Believable(); lo > blo || hi < bhi {
			out = append(out, fmt.Sprintf("readings below %.4g or above %.4g (SI) will have no value: does work stay within?", lo, hi))
		}
	}
	return out
}
