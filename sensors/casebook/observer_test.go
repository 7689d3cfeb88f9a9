package casebook_test

import (
	"math"
	"time"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// channels holds one value of each channel.
type channels [frame.NumChannels]float64

// observer works out the rules' quantities from one set of channels, the true
// ones or those that sensors show. Its formulas stand here a second time on
// purpose.
type observer struct {
	cfg   *engine.Config
	airPa float64
	// follows adds the second or two of smoothing that comparing rules have.
	follows          bool
	t, since         time.Duration
	state            machine.State
	flow, root, amps lag
	heat             float64
	breakerFast      float64
	start            starting
	shakes           [2]average // vibration, pulsation
	normal           [frame.NumChannels]average
	recent           [frame.NumChannels]lag
	learnedS         float64
	// starved is when the pump last showed a sign of it, shut when the trigger
	// last was.
	starved, shut time.Duration
}

// Figures of water and weight. Sources: as in the plant's own, other than the
// rules'.
const (
	rho, g, ice = 998.2, 9.80665, 273.15
)

// step takes in one tick.
func (o *observer) step(ch *channels, v *engine.Verdicts) {
	o.t, o.state = v.T, v.Machine
	if v.MachineSince == v.T {
		o.flow.on, o.root.on, o.amps.on = false, false, false
	}
	o.since = v.MachineSince
	if ch[frame.Trigger] < 0.5 {
		o.shut = o.t
	}
	o.flow.follow(ch[frame.Flow], o.followS())
	o.root.follow(math.Sqrt(math.Max(ch[frame.OutletPressure], 0)), o.followS())
	o.amps.follow(ch[frame.MotorCurrent], o.followS())
	dt := tick.Seconds()
	if p := &o.cfg.Plant; p.RatedA > 0 {
		trip := p.Overload.RatedA * p.Overload.K
		o.heat += (sq(ch[frame.MotorCurrent]/trip) - o.heat) * (1 - math.Exp(-dt/p.Overload.TauS))
		o.start.step(ch, p.RatedA)
	}
	if a := o.cfg.Machine.CircuitA; a > 0 {
		o.breakerFast += (sq(ch[frame.MotorCurrent]/a) - o.breakerFast) * (1 - math.Exp(-dt/breakerTauS))
	}
	if o.state != machine.Running {
		return
	}
	calm := o.starved == 0 || o.t-o.starved > 4*time.Second
	if calm && o.margin(ch) > o.cfg.Rules[engine.NPSHMargin].Warn && o.t-o.since >= 2*time.Second {
		o.shakes[0].add(ch[frame.Vibration])
		o.shakes[1].add(ch[frame.InletPulsation])
	}
	if o.t-o.since >= 2*time.Second && o.t-o.shut >= 2*time.Second {
		o.learn(ch)
	}
}

// followS is the memory of the values that rules compare with one another.
func (o *observer) followS() float64 {
	if o.follows {
		return 1.5
	}
	return 0
}

// learn is the machine's own normal, for the departure rule.
func (o *observer) learn(ch *channels) {
	n := &o.cfg.Normal
	if n.LearnS <= 0 {
		return
	}
	o.learnedS += tick.Seconds()
	for c := range frame.NumChannels {
		if !n.Channels[c] {
			continue
		}
		window := 0.0
		if o.follows {
			window = n.WindowS
		}
		o.recent[c].follow(ch[c], window)
		if o.learnedS > n.WindowS && o.learnedS <= n.LearnS {
			o.normal[c].add(o.recent[c].v)
		}
	}
}

// value is a rule's quantity; bias moves thresholds inside a rule that has
// some towards the alarm (+1) or away from it (-1).
func (o *observer) value(r engine.RuleID, ch *channels, bias float64) float64 {
	switch r {
	case engine.InletLow, engine.InletHigh:
		return ch[frame.InletPressure]
	case engine.WaterHot:
		return ch[frame.WaterTemp]
	case engine.NPSHMargin:
		return o.margin(ch)
	case engine.FlowShort:
		return o.flowShare(ch)
	case engine.CircuitLoad:
		return ch[frame.MotorCurrent]
	case engine.NoFlow:
		return ch[frame.Flow]
	case engine.Bypass:
		return (o.t - o.since).Seconds()
	case engine.TankLow:
		return ch[frame.TankLevel]
	case engine.OutletHigh:
		return ch[frame.OutletPressure]
	case engine.MotorVoltage:
		return o.voltage(ch)
	case engine.PowerLost:
		return number(ch[frame.Running] > 0.5 && ch[frame.PowerPresent] < 0.5)
	case engine.Discharge:
		return o.discharge(o.flow.v, sq(o.root.v))
	case engine.Frost:
		return frostS(ch, 3600)
	case engine.Wear:
		return o.efficiency(ch)
	}
	return o.slow(r, ch, bias)
}

// slow are the quantities that remember; their noise is small against bias.
func (o *observer) slow(r engine.RuleID, ch *channels, bias float64) float64 {
	switch r {
	case engine.MotorHeat:
		return o.heat * (1 + 0.0005*bias)
	case engine.BreakerTime:
		return o.breakerS(ch[frame.MotorCurrent] * (1 + 0.005*bias))
	case engine.StartJam:
		return o.start.seconds(o.cfg.Rules[engine.StartJam].Act)
	case engine.Cavitation:
		return o.grade(ch, bias)
	case engine.Departure:
		return o.departure() * (1 + 0.06*bias)
	}
	return 0
}

// spread is three times the noise of a rule's quantity, from the noise of the
// channels.
func (o *observer) spread(r engine.RuleID, ch, noise *channels) float64 {
	sum, v := 0.0, o.value(r, ch, 0)
	for c := range frame.NumChannels {
		if noise[c] == 0 || c.Digital() {
			continue
		}
		moved := *ch
		moved[c] += noise[c]
		sum += sq(o.value(r, &moved, 0) - v)
	}
	switch r {
	case engine.Discharge, engine.Wear:
		if ch[frame.OutletPressure] < 200e3 {
			return 1 // the root of next to no pressure is all noise
		}
		return 0.0035 // 0.4 % of the flow, read 4 times a second and followed for 2 s: 0.1 %
	}
	if math.IsNaN(sum) || math.IsInf(sum, 0) {
		return 0
	}
	return math.Sqrt(sum)
}
