package casebook_test

import (
	"fmt"
	"math"
	"time"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors/scenario"
	"headroom/sensors/sim"
)

func sprintf(f string, a ...any) string { return fmt.Sprintf(f, a...) }

// moment is what the oracle knows of one tick.
type moment struct {
	// truth is each rule's quantity of the true values; toward and away are
	// those of the sensors' readings without noise but with all their delays
	// and filters, shifted by three times the noise towards the alarm and away
	// from it.
	truth, toward, away [engine.NumRules]float64
	judge               [engine.NumRules]engine.Judge
	bad                 [frame.NumChannels]bool
}

// oracle works out every rule's quantity by itself, in plain arithmetic. It
// takes from the engine under test what the machine does and which rules rest
// in that state, and nothing else.
type oracle struct {
	cfg   *engine.Config
	s     *scenario.Scenario
	real  observer
	seen  observer
	chain [frame.NumChannels]float64
	on    [frame.NumChannels]bool
}

func newOracle(cfg *engine.Config, s *scenario.Scenario) *oracle {
	o := &oracle{cfg: cfg, s: s}
	o.real = observer{cfg: cfg, airPa: s.Machine.AirAbsPa, breakerFast: 1}
	o.seen = observer{cfg: cfg, airPa: airAt(cfg.Machine.AltitudeM), breakerFast: 1, follows: true}
	// Nobody knows what breaker and motor carried before: as warm as at their
	// rated current.
	if k := cfg.Plant.Overload.K; k > 0 {
		o.real.heat, o.seen.heat = 1/sq(k), 1/sq(k)
	}
	return o
}

// look works out one tick. ideal is the frame of sensors without noise.
func (o *oracle) look(m *sim.Sim, ideal *frame.Frame, v *engine.Verdicts) (out moment) {
	var truth, read, noise channels
	for c := range frame.NumChannels {
		x, sigma := m.Truth(c)
		// A sensor that lies is judged by what it says.
		truth[c] = x + o.s.Trouble(c, m.Now()).Drift
		read[c] = o.filter(c, ideal.Samples[c])
		noise[c] = 3 * sigma * o.rest(c)
		out.bad[c] = v.Samples[c].Status != frame.NotFitted && !v.Samples[c].OK()
	}
	o.real.step(&truth, v)
	o.seen.step(&read, v)
	for r := range engine.NumRules {
		out.judge[r] = v.Rules[r].Judge
		out.truth[r] = o.real.value(r, &truth, 0)
		spread := o.seen.spread(r, &read, &noise)
		if r.Spec().HighIsBad {
			spread = -spread
		}
		out.toward[r] = o.seen.value(r, &read, +1) - spread
		out.away[r] = o.seen.value(r, &read, -1) + spread
	}
	return out
}

// gain is how far a first-order filter moves towards its input in a step. Source:
// any text on signal processing.
func gain(stepS, tauS float64) float64 { return 1 - math.Exp(-stepS/tauS) }

// filter is the config's first-order filter.
func (o *oracle) filter(c frame.Channel, s frame.Sample) float64 {
	tau := o.cfg.Signals[c].SmoothS
	switch {
	case !s.OK():
		o.on[c] = false
		return s.Value
	case tau <= 0 || !o.on[c]:
		o.on[c], o.chain[c] = true, s.Value
	default:
		o.chain[c] += (s.Value - o.chain[c]) * gain(tick.Seconds(), tau)
	}
	return o.chain[c]
}

// rest is the share of a reading's noise that the filter lets through: for a
// first-order filter of gain g, sqrt(g/(2-g)).
func (o *oracle) rest(c frame.Channel) float64 {
	step := math.Max(tick.Seconds(), periodS(c))
	tau := o.cfg.Signals[c].SmoothS
	if tau <= 0 {
		return 1
	}
	g := gain(step, tau)
	return math.Sqrt(g / (2 - g))
}

// periodS is how often a sensor reads, where that is slower than the tick.
func periodS(c frame.Channel) float64 {
	switch c {
	case frame.Flow, frame.Vibration, frame.InletPulsation:
		return 0.25
	case frame.WaterTemp, frame.AmbientTemp, frame.TankLevel:
		return 1
	}
	return 0
}

// beyond reports whether a value is at or over a limit.
func beyond(r engine.RuleID, value, limit float64) bool {
	if r.Spec().HighIsBad {
		return value >= limit
	}
	return value <= limit
}

// inside reports whether a value has left the limit by the deadband.
func inside(r engine.RuleID, value, limit, deadband float64) bool {
	far := value - limit
	if r.Spec().HighIsBad {
		far = -far
	}
	return far > 0 && far >= deadband
}

// stage is what the config says of one alarm.
type stage struct {
	rule              engine.RuleID
	limit, deadband   float64
	on, off           time.Duration
	isSensor, present bool
	channel           frame.Channel
}

func stageOf(cfg *engine.Config, a engine.AlarmID) stage {
	if c, ok := a.Channel(); ok {
		return stage{channel: c, isSensor: true, present: cfg.Signals[c].Fitted, on: cfg.SensorOn, off: cfg.SensorOff}
	}
	r, _ := a.Rule()
	l := &cfg.Rules[r]
	if a == engine.WarnAlarm(r) {
		return stage{rule: r, limit: l.Warn, deadband: l.Deadband, on: l.WarnOn, off: l.Off, present: l.On && l.HasWarn}
	}
	return stage{rule: r, limit: l.Act, deadband: l.Deadband, on: l.ActOn, off: l.Off, present: l.On && l.HasAct}
}
