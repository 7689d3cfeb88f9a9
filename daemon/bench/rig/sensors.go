package rig

import (
	"math"
	"math/rand/v2"

	"headroom/daemon/bench"
	"headroom/rules/frame"
)

// Channels are those that the bench carries.
func Channels() []frame.Channel {
	return []frame.Channel{frame.InletPressure, frame.WaterTemp, frame.Flow, frame.MotorCurrent, frame.OutletPressure, frame.ShaftSpeed, frame.SupplyVoltage, frame.AirPressure}
}

// Values is what every channel truly is at one moment.
type Values [frame.NumChannels]float64

// Values returns the truth now.
func (b *Bench) Values() (v Values) {
	s := &b.state
	v[frame.InletPressure], v[frame.WaterTemp], v[frame.Flow] = s.InletGaugePa, s.InletK, s.SupplyM3s
	v[frame.MotorCurrent], v[frame.OutletPressure], v[frame.ShaftSpeed] = s.CurrentA, s.OutletGaugePa, s.PumpHz
	v[frame.SupplyVoltage], v[frame.AirPressure] = s.MotorV, b.plant.Config().AirAbsPa
	return v
}

// noise is how one channel's readings scatter: a fixed part, a share of the
// value, and for how many frames a reading stands. Invented, as in the
// simulator's sensors.
var noises = [frame.NumChannels]struct {
	fixed, share float64
	hold         int
}{
	frame.InletPressure:  {1100, 0, 1},
	frame.WaterTemp:      {0.03, 0, 10},
	frame.Flow:           {0, 0.004, 3},
	frame.MotorCurrent:   {0.03, 0.003, 1},
	frame.OutletPressure: {4e3, 0.002, 1},
	frame.ShaftSpeed:     {0, 0.001, 1},
	frame.SupplyVoltage:  {0.02, 0.001, 1},
	frame.AirPressure:    {3, 0, 10},
}

// Sensors show a truth with lasting errors and noise.
type Sensors struct {
	rng        *rand.Rand
	zero, gain [frame.NumChannels]float64
	step       [frame.NumChannels]float64
	held       [frame.NumChannels]float64
	count      int
	// old is set while the held values are from before a time without frames.
	old bool
}

// NewSensors draws each instrument's lasting errors from its stated limits, any
// place within them as likely.
func NewSensors(instruments []bench.Instrument, rng *rand.Rand) *Sensors {
	s := &Sensors{rng: rng}
	for _, i := range instruments {
		c, ok := frame.ByName(i.Channel)
		if !ok {
			continue
		}
		s.zero[c] = i.Zero * (2*rng.Float64() - 1)
		s.gain[c] = i.Gain * (2*rng.Float64() - 1)
		s.step[c] = i.Step
	}
	return s
}

// Spoil makes a channel lie beyond its class: by a zero error, in its unit, and
// a gain error.
func (s *Sensors) Spoil(c frame.Channel, zero, gain float64) {
	s.zero[c] += zero
	s.gain[c] += gain
}

// Pass lets time go by without frames: a slow sensor then holds what it read at
// the end of it, and not what was true before.
func (s *Sensors) Pass() { s.old = true }

// Read makes one frame of a truth.
func (s *Sensors) Read(v *Values, f *frame.Frame) {
	for _, c := range Channels() {
		n := &noises[c]
		if s.old || s.count%n.hold == 0 {
			x, base := v[c], v[c]
			if c == frame.WaterTemp {
				base -= 273.15
			}
			x += s.zero[c] + s.gain[c]*base + (n.fixed+n.share*math.Abs(v[c]))*s.rng.NormFloat64()
			if s.step[c] > 0 {
				x = math.Round(x/s.step[c]) * s.step[c]
			}
			if v[c] == 0 && (c == frame.Flow || c == frame.ShaftSpeed) {
				x = 0 // no pulse comes while nothing turns
			}
			s.held[c] = x
		}
		f.Set(c, s.held[c])
	}
	s.count++
	s.old = false
}
