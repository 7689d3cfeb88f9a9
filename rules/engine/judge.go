package engine

import (
	"math"
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/trend"
	"headroom/rules/units"
)

// view is what a rule may look at.
type view struct {
	e   *Engine
	cfg *Config
	smp *[frame.NumChannels]frame.Sample
	d   *derived
	s   *State
	t   time.Duration
}

// apply lets one rule fill in its value and what it used, or say why it can't.
// A switch and not a table of functions: the compiler then sees that nothing
// escapes, and the tick allocates nothing.
func apply(r RuleID, x *view, v *Verdict) {
	switch r {
	case InletLow, InletHigh:
		inletPressure(x, v)
	case WaterHot:
		waterHot(x, v)
	case NPSHMargin:
		npshMargin(x, v)
	case FlowShort:
		flowShort(x, v)
	case CircuitLoad:
		circuitLoad(x, v)
	case NoFlow:
		noFlow(x, v)
	case Bypass:
		bypass(x, v)
	case TankLow:
		tankLow(x, v)
	case OutletHigh:
		outletHigh(x, v)
	case Departure:
		departure(x, v)
	case Cavitation:
		cavitationSigns(x, v)
	case BreakerTime:
		breakerTime(x, v)
	case MotorHeat:
		motorHeat(x, v)
	case MotorVoltage:
		motorVoltage(x, v)
	case StartJam:
		startJam(x, v)
	case PowerLost:
		powerLost(x, v)
	case Discharge:
		discharge(x, v)
	case Frost:
		frost(x, v)
	case Wear:
		wearOf(x, v)
	}
}

func (e *Engine) judge(s *State, t time.Duration) {
	var fade [numPaces]float64
	for p := range fade {
		fade[p] = trend.Fade(s.dtS, paceS[p])
	}
	x := view{e, &e.cfg, &s.out.Samples, &s.derived, s, t}
	s.out.Blind = 0
	for r := range NumRules {
		v := &s.out.Rules[r]
		e.judgeRule(&x, v, r)
		e.foresee(s, v, fade[specs[r].Pace])
		if v.Judge.Blind() {
			s.out.Blind++
		}
	}
}

// working is the state in which the pump works into the hose: rules that apply
// there alone are about flow and pressure, and rest while the outlet closes.
const working = machine.Set(1 << machine.Running)

// judgeRule lets the rule judge and then says whether that counts now: a
// sensor that isn't fitted comes first, then the state of the machine, then a
// sensor that has no good reading.
func (e *Engine) judgeRule(x *view, v *Verdict, r RuleID) {
	*v = Verdict{Rule: r, Blame: frame.NumChannels, About: frame.NumChannels}
	lim := &e.cfg.Rules[r]
	if !lim.On {
		v.Judge = SwitchedOff
		return
	}
	limit, ok := lim.Outer()
	v.Limit, v.Judge = limit, Watching
	apply(r, x, v)
	if (!ok || lim.Span <= 0) && v.Judge != NotFitted {
		v.cannot(NotSet, frame.NumChannels)
	}
	if v.Judge == NotFitted || v.Judge == NotSet {
		if v.Judge == NotSet {
			v.Lacks = lim.Lacks
		}
		return
	}
	if st := x.s.machine.State; !specs[r].States.Has(st) {
		if _, bypassed := x.s.machine.Bypassed(); r == Bypass && bypassed && st != machine.Unknown {
			return // it bypassed when last seen, and the rule has said what is missing
		}
		v.cannot(NotNow, frame.NumChannels)
		if st == machine.Unknown {
			v.Judge = StateUnknown
		}
		return
	}
	if specs[r].States&working == specs[r].States && (x.s.trust.speed.alone || x.s.machine.Closing(&x.cfg.States, x.t)) {
		v.cannot(NotNow, frame.NumChannels)
		return
	}
	if v.Judge == Watching && (math.IsNaN(v.Value) || math.IsInf(v.Value, 0)) {
		v.cannot(OutsideModel, frame.NumChannels)
	}
	if v.Judge == Watching {
		v.measure(lim)
	}
}

// measure fills in headroom and share.
func (v *Verdict) measure(lim *Limit) {
	v.Headroom = v.Value - v.Limit
	if specs[v.Rule].HighIsBad {
		v.Headroom = -v.Headroom
	}
	v.Share = v.Headroom / lim.Span
}

// rest is how long after a change of the state or the outlet nothing is
// foretold of what it moves: a step is no trend. It is what flow and pressure
// take to settle. Common practice, no source.
const rest = 3 * time.Second

// foresee feeds the trend and reads the time to the limit from it. A rule with
// a model of its own, or whose value is itself a time, has already said how
// long, or that it never comes to it.
func (e *Engine) foresee(s *State, v *Verdict, fade float64) {
	line := &s.lines[v.Rule]
	stepped := specs[v.Rule].Pace == Fast && s.machine.Moving(s.out.T, rest)
	if v.Judge != Watching || !trends(v.Rule) || stepped {
		line.Reset()
		return
	}
	line.Add(s.dtS, fade, v.Share)
	if v.Sure != trend.None || v.Share <= 0 {
		return
	}
	v.TimeToS, v.EarliestS, v.LatestS, v.Sure = line.TimeTo(v.Share, paceS[specs[v.Rule].Pace])
}

// trends reports whether a straight line through the past of a rule's value
// says anything of its future: a grade, a switch or a time that is itself
// computed moves in steps, and a motor's heat levels off.
func trends(r RuleID) bool {
	q := specs[r].Quantity
	return q != units.None && q != units.Switch && q != units.Duration && r != MotorHeat
}

// need reports whether the channel can be used, and otherwise makes the
// verdict say why not.
func (x *view) need(v *Verdict, c frame.Channel) bool {
	switch s := x.smp[c]; {
	case s.OK():
		return true
	case !x.cfg.Signals[c].Fitted:
		v.cannot(NotFitted, c)
	default:
		v.cannot(NoReading, c)
	}
	return false
}
