package casebook_test

import (
	"math"
	"time"

	"headroom/rules/frame"
)

// said is what the signs of one class say: 0 nothing, 1 something, 2 much.
type said struct {
	level int
	known bool
}

func (s *said) hear(x, speaks, strong float64) {
	s.known = true
	if x >= strong {
		s.level = max(s.level, 2)
	} else if x >= speaks {
		s.level = max(s.level, 1)
	}
}

// grade weighs the signs of cavitation by the thresholds that the rule states:
// two classes that speak, one of them much, or three, are likely (3); three,
// two of them much, or effects and noises both much with every instrument
// speaking, are severe (4). bias moves every threshold by a tenth and, towards
// the alarm, lets the swings of a starving pump count, which noise decides.
func (o *observer) grade(ch *channels, bias float64) float64 {
	k := 1 - 0.1*bias
	var conditions, effects, noises said
	margin := o.margin(ch)
	// An assumed NPSH required never speaks much.
	conditions.hear(-margin, -1.5/k, math.Inf(1))
	conditions.hear(-o.warmer(ch, margin), -10/k, math.Inf(1))
	m, p := &o.cfg.Machine, &o.cfg.Plant
	deficit := 1 - o.flow.v/(m.DisplacementM3*o.speed(ch)*m.VolumetricEff)
	effects.hear(deficit, 0.06*k, 0.15*k)
	byFlow, byAmps := deficit >= 0.06*k, false
	if p.RatedA > 0 && o.cfg.Signals[frame.MotorCurrent].Fitted {
		want := p.NoLoadA + (p.RatedA-p.NoLoadA)*sq(o.root.v)/m.RatedOutletPa
		drop := 1 - o.amps.v/want
		effects.hear(drop, 0.10*k, 0.25*k)
		byAmps = drop >= 0.10*k
	}
	shake, pulse := o.rise(0, ch[frame.Vibration]), o.rise(1, ch[frame.InletPulsation])
	noises.hear(shake, 2*k, 4*k)
	noises.hear(pulse, 2*k, 4*k)
	if conditions.level > 0 || noises.level > 0 {
		o.starved = o.t
	}
	if bias > 0 && o.starved > 0 && o.t-o.starved <= 4*time.Second {
		// Flow and current may swing, which only a noisy sensor can tell, and a
		// swing is remembered for a few times a second and a half.
		effects.level, byFlow, byAmps = 2, true, true
	}
	everything := byFlow && byAmps && shake >= 2*k && pulse >= 2*k
	return gradeOf(conditions.level, effects.level, noises.level, everything)
}

func gradeOf(conditions, effects, noises int, everything bool) float64 {
	heard, much := 0, 0
	for _, l := range [...]int{conditions, effects, noises} {
		heard += min(l, 1)
		much += l / 2
	}
	switch {
	case everything && effects == 2 && noises == 2, heard == 3 && much >= 2:
		return 4
	case heard == 3, heard == 2 && much >= 1, conditions == 2:
		return 3
	case heard > 0:
		return 2
	}
	return 1
}

// rise is a sign over its own normal, which needs ten seconds of it.
func (o *observer) rise(i int, now float64) float64 {
	a := &o.shakes[i]
	if a.n < 100 || a.mean <= 0 {
		return 1
	}
	return now / a.mean
}

// warmer is how much warmer the water may get until the margin is gone.
func (o *observer) warmer(ch *channels, margin float64) float64 {
	at := boilPa(ch[frame.WaterTemp]) + margin*rho*g
	if at < 100 {
		return -1
	}
	return boilK(at) - ch[frame.WaterTemp]
}
