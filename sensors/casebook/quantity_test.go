package casebook_test

import (
	"math"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

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

// flowShare is the flow against what the pump gives or, where that is less, the
// config's nozzle takes at the rated pressure. With a sound inlet it is never
// the second stage: the rest goes back through the unloader or leaks.
func (o *observer) flowShare(ch *channels) float64 {
	m, p := &o.cfg.Machine, &o.cfg.Plant
	want := m.DisplacementM3 * o.speed(ch) * m.VolumetricEff
	if k := p.NozzleFactor; k > 0 {
		want = math.Min(want, math.Sqrt(m.RatedOutletPa/(1/sq(k)+p.HoseCoefficient)))
	}
	share, lim := ch[frame.Flow]/want, &o.cfg.Rules[engine.FlowShort]
	if ch[frame.InletPressure] > o.cfg.Rules[engine.InletLow].Warn && o.margin(ch) > o.cfg.Rules[engine.NPSHMargin].Warn {
		share = math.Max(share, lim.Act+lim.Deadband+0.01)
	}
	return share
}

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
