package engine

import (
	"math"

	"headroom/rules/frame"
)

// amps is what is known of the motor's current in this frame: a value, a least
// value where the sensor is over its range, or nothing.
type amps struct {
	a            float64
	known, least bool
}

// any reports whether there is a value or a bound.
func (i amps) any() bool { return i.known || i.least }

// ampsOf reads the motor's current. A clamp over its range still says that at
// least so much flows, and a motor that is held fast is exactly there: to take
// that for no reading would blind the rules that are made for it. What lies
// beyond the band of the config counts as the band's end.
func (c *Config) ampsOf(smp *[frame.NumChannels]frame.Sample) amps {
	s := smp[frame.MotorCurrent]
	if s.OK() {
		return amps{a: s.Value, known: true}
	}
	_, most := frame.MotorCurrent.Believable()
	if a, ok := s.AtLeast(most); ok && c.Signals[frame.MotorCurrent].Fitted {
		return amps{a: math.Min(a, c.Signals[frame.MotorCurrent].Max), least: true}
	}
	return amps{}
}

// atLeastOf is the motor's current as a sample, good also where only its least
// is known: enough to tell that the motor is on.
func atLeastOf(smp *[frame.NumChannels]frame.Sample) frame.Sample {
	s := smp[frame.MotorCurrent]
	_, most := frame.MotorCurrent.Believable()
	if a, ok := s.AtLeast(most); ok {
		return frame.Sample{Value: a, Status: frame.Good}
	}
	return s
}

// needAmps reports whether the motor's current can be used; otherwise it makes
// the verdict say why not. A bound can be used where it already lies at or
// beyond what the rule asks, at: what flows is no less. Below that it says
// nothing, and not knowing is not all right.
func (x *view) needAmps(v *Verdict, at float64) (i amps, ok bool) {
	i = x.cfg.ampsOf(x.smp)
	if i.known || i.least && i.a >= at {
		return i, true
	}
	x.need(v, frame.MotorCurrent)
	return i, false
}

// useAmps names the current in the verdict, as a bound where it is one.
func (v *Verdict) useAmps(i amps) {
	if i.known {
		v.use(TermCurrent, i.a)
		return
	}
	v.useMaybe(TermCurrentAtLeast, i.a, true)
}

// inner is the first limit that is set.
func (l *Limit) inner() float64 {
	if l.HasWarn {
		return l.Warn
	}
	return l.Act
}
