package engine

import (
	"time"

	"headroom/rules/alarm"
	"headroom/rules/frame"
)

// ruleSet is a set of rules.
type ruleSet uint32

func rules(rs ...RuleID) (s ruleSet) {
	for _, r := range rs {
		s |= 1 << r
	}
	return s
}

func (s ruleSet) has(r RuleID) bool { return s&(1<<r) != 0 }

// shortOfWater are the consequences of too little water at the inlet. A dry
// run is none: seconds count then, so it calls whatever stands already. So does
// a jammed start, which nothing leads to.
var shortOfWater = rules(NPSHMargin, Cavitation, FlowShort)

// causes says which rules' alarms follow from another's, so that one kinked
// hose is one alarm with its consequences under it and not five. The order is
// one way only, so that no alarm can be its own cause. Whatever happens, the
// machine leaves its own normal.
var causes = [NumRules]ruleSet{
	TankLow:      rules(InletLow) | shortOfWater,
	Bypass:       rules(WaterHot),
	WaterHot:     rules(NPSHMargin, Cavitation, FlowShort),
	InletLow:     shortOfWater,
	NoFlow:       rules(NPSHMargin, Cavitation, FlowShort),
	NPSHMargin:   rules(Cavitation, FlowShort),
	Cavitation:   rules(FlowShort),
	Wear:         rules(FlowShort),
	Discharge:    rules(OutletHigh, CircuitLoad, MotorHeat),
	OutletHigh:   rules(CircuitLoad, MotorHeat),
	StartJam:     rules(MotorVoltage, CircuitLoad, BreakerTime, MotorHeat, PowerLost),
	MotorVoltage: rules(CircuitLoad, BreakerTime, MotorHeat),
	CircuitLoad:  rules(BreakerTime, MotorHeat),
}

func leadsTo(cause, effect RuleID) bool {
	return causes[cause].has(effect) || effect == Departure && cause != Departure
}

// Causes returns the rules whose alarms may stand over an alarm of the rule, in
// the rules' order; nil for none. It is for documents and allocates: the tick
// does not call it. Beyond NumRules it is nil.
func Causes(effect RuleID) []RuleID {
	if effect >= NumRules {
		return nil
	}
	var out []RuleID
	for cause := range NumRules {
		if cause != effect && leadsTo(cause, effect) {
			out = append(out, cause)
		}
	}
	return out
}

// together is how much later than its consequence a cause may be seen to
// begin: the two stand on different sensors with different filters.
const together = 5 * time.Second

// group finds what each standing alarm stands under. Without the signals no
// sensor stands under another.
func (s *State) group(signals *[frame.NumChannels]Signal) {
	was := s.under
	s.forgetCauses()
	if !s.anyActive() {
		s.own = [NumAlarms]bool{}
		return
	}
	for i := range AlarmID(NumAlarms) {
		if !s.speaks(i) {
			continue
		}
		if s.own[i] {
			continue
		}
		s.under[i] = s.parent(i, signals)
		if s.under[i] == noAlarm && s.justGone(was[i]) {
			s.under[i] = was[i]
		}
	}
	// An alarm stands under its last cause; the way is short and has no loop.
	for i := range s.under {
		for p := s.under[i]; p != noAlarm && s.under[p] != noAlarm; p = s.under[i] {
			s.under[i] = s.under[p]
		}
	}
	s.findNews()
}

// newsAfter is how long after its cause began a consequence is news: whoever
// was called by the cause has come, looked, and expects no more. Common
// practice, no source.
const newsAfter = time.Minute

// findNews lets what asks to act now stand by itself where nobody can know of
// it: it began when its cause had been acknowledged, or long after it. It then
// stays by itself until it goes back.
func (s *State) findNews() {
	for i := range s.under {
		p := s.under[i]
		if !s.alarms[i].Active {
			s.own[i] = false
			continue
		}
		if p == noAlarm || s.levels[i] < Act || sameRule(AlarmID(i), p) {
			continue
		}
		onset := s.alarms[i].Onset
		unseen := s.lives[p].Base() == alarm.Acknowledged && onset > s.acked[p]
		if unseen || onset-s.alarms[p].Onset > newsAfter {
			s.own[i], s.under[i] = true, noAlarm
		}
	}
}

// sameRule reports whether two alarms are the stages of one rule.
func sameRule(a, b AlarmID) bool {
	ra, ok := a.Rule()
	rb, too := b.Rule()
	return ok && too && ra == rb
}

// forgetCauses makes every alarm stand by itself. The zero state needs it once,
// since 0 is an alarm's number.
func (s *State) forgetCauses() {
	for i := range s.under {
		s.under[i] = noAlarm
	}
}

func (s *State) anyActive() bool {
	for i := range s.alarms {
		if s.alarms[i].Active {
			return true
		}
	}
	return false
}

// justGone reports whether a cause went back a moment ago: its consequences,
// which stand on slower sensors, are about to follow and needn't call.
func (s *State) justGone(p AlarmID) bool {
	return p != noAlarm && !s.alarms[p].Active && s.last-s.alarms[p].Since < together
}

// speaks reports whether the alarm's condition stands and no person has put it
// aside: only such an alarm can explain others.
func (s *State) speaks(a AlarmID) bool {
	_, shelved := s.lives[a].ShelvedUntil()
	return s.alarms[a].Active && !shelved && !s.lives[a].IsOut()
}

func (s *State) parent(a AlarmID, signals *[frame.NumChannels]Signal) AlarmID {
	if c, ok := a.Channel(); ok {
		return s.sensorParent(a, c, signals)
	}
	r, _ := a.Rule()
	if act := ActAlarm(r); a != act && s.speaks(act) {
		return act
	}
	best := noAlarm
	for cause := range NumRules {
		if cause == r || !leadsTo(cause, r) {
			continue
		}
		for _, p := range [...]AlarmID{ActAlarm(cause), WarnAlarm(cause)} {
			if s.explains(p, a) && (best == noAlarm || s.alarms[p].Onset < s.alarms[best].Onset) {
				best = p
			}
		}
	}
	return best
}

// explains reports whether p may stand over a: it began no later than about
// the same time, and is no less severe, so that nothing urgent is ever hidden
// under something mild.
func (s *State) explains(p, a AlarmID) bool {
	return s.speaks(p) && s.levels[p] >= s.levels[a] && s.alarms[p].Onset <= s.alarms[a].Onset+together
}

// sensorParent puts sensors of one bus that went at the same moment under the
// first of them: a bus that dies is one fault, not ten. Sensors that share none
// are as many faults, and each calls by itself.
func (s *State) sensorParent(a AlarmID, c frame.Channel, signals *[frame.NumChannels]Signal) AlarmID {
	const atOnce = time.Second
	if signals == nil || signals[c].Bus == 0 {
		return noAlarm
	}
	for first := range c {
		p := SensorAlarm(first)
		d := s.alarms[p].Onset - s.alarms[a].Onset
		if signals[first].Bus == signals[c].Bus && s.speaks(p) && s.levels[p] >= s.levels[a] && d > -atOnce && d < atOnce {
			return p
		}
	}
	return noAlarm
}
