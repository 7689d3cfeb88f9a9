package casebook_test

import (
	"headroom/rules/frame"
	"headroom/sensors/plant"
)

// starting counts how long a motor draws more than a running one. A start is
// over when the current has fallen, or has not risen for half a second; the
// first reading of a rising one ends nothing.
type starting struct {
	on, running, rose bool
	elapsed, above    float64
}

func (s *starting) step(ch *channels, ratedA float64) {
	i := ch[frame.MotorCurrent]
	high := i > 1.5*ratedA
	switch {
	case ch[frame.Running] < 0.5 || i < 0.05*ratedA:
		*s = starting{}
	case !s.on:
		*s = starting{on: true, rose: high}
	case !s.running:
		s.elapsed += tick.Seconds()
		s.rose = s.rose || high
		s.running = !high && (s.rose || s.elapsed >= 0.5)
	case i >= 3*ratedA:
		s.above += tick.Seconds()
	default:
		s.above = 0
	}
}

func (s *starting) seconds(limit float64) float64 {
	switch {
	case s.on && !s.running:
		return s.elapsed
	case s.above >= 0.5-1e-9:
		return limit + s.above
	}
	return 0
}

// lag is a first-order filter and average a mean.
type lag struct {
	v  float64
	on bool
}

func (l *lag) follow(x, tauS float64) {
	if !l.on || tauS <= 0 {
		l.v, l.on = x, true
		return
	}
	l.v += (x - l.v) * gain(tick.Seconds(), tauS)
}

type average struct{ mean, n float64 }

func (a *average) add(x float64) {
	a.n++
	a.mean += (x - a.mean) / a.n
}

func sq(x float64) float64 { return x * x }

func number(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func airAt(altitudeM float64) float64 {
	pa, _ := plant.AirAbsPa(altitudeM)
	return pa
}
