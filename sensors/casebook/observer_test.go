package casebook_test

import (
	"math"
	"time"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/sensors/plant"
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
	starved          time.Duration
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
	if o.margin(ch) > o.cfg.Rules[engine.NPSHMargin].Warn && o.t-o.since >= 2*time.Second {
		o.shakes[0].add(ch[frame.Vibration])
		o.shakes[1].add(ch[frame.InletPulsation])
	}
	o.learn(ch)
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
	m := &o.cfg.Machine
	switch r {
	case engine.InletLow, engine.InletHigh:
		return ch[frame.InletPressure]
	case engine.WaterHot:
		return ch[frame.WaterTemp]
	case engine.NPSHMargin:
		return o.margin(ch)
	case engine.FlowShort:
		return ch[frame.Flow] / (m.DisplacementM3 * o.speed(ch) * m.VolumetricEff)
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
		return 0.0035 // 0.4 % of the flow, read 4 times a second and followed for 2 s: 0.1 %
	}
	if math.IsNaN(sum) || math.IsInf(sum, 0) {
		return 0
	}
	return math.Sqrt(sum)
}

// margin is the net positive suction head left, by its definition: static head
// over boiling, velocity head, less what the pulse and the pump take. Source
// of the pulse: L V N C / (K g), C 0.066 for three plungers, from memory.
func (o *observer) margin(ch *channels) float64 {
	m, p := &o.cfg.Machine, &o.cfg.Plant
	v := ch[frame.Flow] / (math.Pi / 4 * sq(m.InletBoreM))
	pulse := p.InletLineM * v * 60 * o.speed(ch) * 0.066 / (p.LiquidK * g)
	return (ch[frame.InletPressure]+o.airPa-boilPa(ch[frame.WaterTemp]))/(rho*g) + v*v/(2*g) - pulse - m.AssumedNPSHRM
}

// boilPa and boilK are the Antoine equation of water with the usual constants
// for 1 to 100 degrees (mmHg and Celsius), from memory.
func boilPa(k float64) float64 { return 133.322 * math.Pow(10, 8.07131-1730.63/(233.426+k-ice)) }

func boilK(pa float64) float64 { return ice - 233.426 + 1730.63/(8.07131-math.Log10(pa/133.322)) }

// voltage is measured, or what circuit and cord leave of the house's.
func (o *observer) voltage(ch *channels) float64 {
	p := &o.cfg.Plant
	if o.follows && !o.cfg.Signals[frame.SupplyVoltage].Fitted {
		return p.CircuitV - p.CordOhm*ch[frame.MotorCurrent]
	}
	return ch[frame.SupplyVoltage]
}

// discharge is how far the nozzle's factor lies from the expected one.
func (o *observer) discharge(flow, outletPa float64) float64 {
	p := &o.cfg.Plant
	left := outletPa - p.HoseCoefficient*flow*flow
	if left <= 0 || p.NozzleFactor <= 0 {
		return math.Inf(1)
	}
	return math.Abs(flow/math.Sqrt(left)/p.NozzleFactor - 1)
}

// efficiency against the baseline, on a straight line between its points,
// which stand in order of falling pressure.
func (o *observer) efficiency(ch *channels) float64 {
	b := &o.cfg.Plant.Baseline
	if b.N == 0 {
		return 1
	}
	p, want := sq(o.root.v), b.Points[0].Efficiency
	for i := 1; i < b.N; i++ {
		hi, lo := b.Points[i-1], b.Points[i]
		if p <= hi.DropPa {
			want = hi.Efficiency + (lo.Efficiency-hi.Efficiency)*math.Min((hi.DropPa-p)/(hi.DropPa-lo.DropPa), 1)
		}
	}
	return o.flow.v / (o.cfg.Machine.DisplacementM3 * o.speed(ch)) / want
}

// speed is the shaft's, or the plate's where none is measured.
func (o *observer) speed(ch *channels) float64 {
	if o.follows && !o.cfg.Signals[frame.ShaftSpeed].Fitted {
		return o.cfg.Machine.RatedSpeedHz
	}
	return ch[frame.ShaftSpeed]
}

// frostS is Newton's law of cooling down to the freezing point.
func frostS(ch *channels, tauS float64) float64 {
	w, a := ch[frame.WaterTemp]-ice, ch[frame.AmbientTemp]-ice
	switch {
	case w <= 0:
		return 0
	case a >= 0:
		return 86_400
	}
	return math.Min(tauS*math.Log((w-a)/-a), 86_400)
}

// The quickest breaker that UL 489 allows in this project: cold, it trips in
// 10 s at twice its rating and holds its rating for ever; the slowest holds
// 1.35 ratings for an hour.
const breakerTauS = 10 / 0.28768207245178 // ln(4/3)

func (o *observer) breakerS(amps float64) float64 {
	i2 := sq(amps / o.cfg.Machine.CircuitA)
	switch {
	case i2 <= 1.35*1.35:
		return 86_400
	case i2 > 25 || o.breakerFast >= 1:
		return 0
	}
	return breakerTauS * math.Log((i2-o.breakerFast)/(i2-1))
}

// departure is the farthest that a channel's recent mean lies from the normal,
// in half percents of it, the least spread that the rule counts.
func (o *observer) departure() (z float64) {
	if n := &o.cfg.Normal; n.LearnS <= 0 || o.learnedS <= n.LearnS {
		return 0
	}
	for c := range frame.NumChannels {
		if a := &o.normal[c]; a.n > 0 {
			z = math.Max(z, math.Abs(o.recent[c].v-a.mean)/(0.005*a.mean))
		}
	}
	return z
}

// starting counts how long a motor draws more than a running one.
type starting struct {
	on, running    bool
	elapsed, above float64
}

func (s *starting) step(ch *channels, ratedA float64) {
	i := ch[frame.MotorCurrent]
	switch {
	case ch[frame.Running] < 0.5 || i < 0.05*ratedA:
		*s = starting{}
	case !s.on:
		*s = starting{on: true, running: i <= 1.5*ratedA}
	case !s.running:
		s.elapsed += tick.Seconds()
		s.running = i <= 1.5*ratedA
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
	l.v += (x - l.v) * tick.Seconds() / (tauS + tick.Seconds())
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
