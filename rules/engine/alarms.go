package engine

import (
	"time"

	"headroom/rules/alarm"
	"headroom/rules/frame"
)

// timeAlarms runs the delays of every alarm and notes who came first.
func (e *Engine) timeAlarms(s *State, t time.Duration) {
	quiet := !s.any
	for r := range s.out.Rules {
		e.timeRule(s, &s.out.Rules[r], t)
	}
	delays := alarm.Delays{On: e.cfg.SensorOn, Off: e.cfg.SensorOff}
	for c := range s.out.Samples {
		s.step(SensorAlarm(frame.Channel(c)), sensorSignal(s.out.Samples[c].Status), delays, SensorLevel(frame.Channel(c)), t, 0, 0)
	}
	e.live(s, t)
	s.markFirst(quiet)
	s.tellTransitions()
	s.publishAlarms()
}

func (e *Engine) timeRule(s *State, v *Verdict, t time.Duration) {
	lim := &e.cfg.Rules[v.Rule]
	high := specs[v.Rule].HighIsBad
	warn, act := WarnAlarm(v.Rule), ActAlarm(v.Rule)
	s.step(warn, signal(v, lim.Warn, lim.Deadband, lim.On && lim.HasWarn, high), alarm.Delays{On: lim.WarnOn, Off: lim.Off}, lim.WarnLevel, t, v.Value, lim.Warn)
	sig := signal(v, lim.Act, lim.Deadband, lim.On && lim.HasAct, high)
	if v.warnAtMost && sig != alarm.Off {
		sig = alarm.Clear
	}
	s.step(act, sig, alarm.Delays{On: lim.ActOn, Off: lim.Off}, lim.ActLevel, t, v.Value, lim.Act)
	v.Level = max(s.standing(warn), s.standing(act))
}

// timed reports whether an alarm of the rule stands or is about to: it is then
// judged on, so that its delays run as they should.
func (s *State) timed(r RuleID) bool {
	return s.alarms[WarnAlarm(r)].Busy() || s.alarms[ActAlarm(r)].Busy()
}

// standing is the level of an alarm that stands and that nobody put aside.
func (s *State) standing(a AlarmID) Level {
	if s.speaks(a) {
		return s.levels[a]
	}
	return Normal
}

// signal says what a verdict means for one of its stages.
func signal(v *Verdict, limit, deadband float64, set, high bool) alarm.Signal {
	if !set {
		return alarm.Off
	}
	switch {
	case v.Judge.Blind():
		return alarm.Unjudged
	case v.Judge.Answers() && v.Judge != Watching:
		return alarm.Clear // an answer, and none of a time within the limit
	case v.Judge != Watching:
		return alarm.Off
	}
	beyond := limit - v.Value
	if high {
		beyond = -beyond
	}
	switch {
	case beyond >= 0 && v.supposedAt(limit):
		return alarm.Between
	case beyond >= 0:
		return alarm.Beyond
	case beyond > -deadband:
		return alarm.Between
	}
	return alarm.Clear
}

func sensorSignal(st frame.Status) alarm.Signal {
	switch st {
	case frame.NotFitted:
		return alarm.Off
	case frame.Good, frame.Service:
		return alarm.Clear
	}
	return alarm.Beyond
}

// SensorLevel is the level of a sensor's alarm: the four channels that every
// machine needs are worth a warning, the others advice. Common practice, no
// source.
func SensorLevel(c frame.Channel) Level {
	switch c {
	case frame.InletPressure, frame.WaterTemp, frame.Flow, frame.MotorCurrent:
		return Warning
	}
	return Advice
}

// step advances one alarm and notes a transition.
func (s *State) step(a AlarmID, sig alarm.Signal, d alarm.Delays, level Level, t time.Duration, value, limit float64) {
	st := &s.alarms[a]
	if s.chatter[a].On(t) {
		d.Off = max(d.Off, alarm.ChatterHold)
	}
	change := st.Step(sig, d, t)
	if change == alarm.Same {
		return
	}
	s.levels[a] = level
	tr := &s.out.changes[s.out.n]
	s.out.n++
	*tr = Transition{T: t, Alarm: a, Raised: change == alarm.Raised, Level: level, Onset: st.Onset, Machine: s.machine.State}
	tr.Value, tr.Limit = value, limit
	if c, ok := a.Channel(); ok {
		tr.Status = s.out.Samples[c].Status
	}
	if tr.Raised {
		s.totals.Raised[a]++
	}
}

// markFirst marks the first-out: of the alarms raised while none stood, the
// one whose condition began earliest; the stated order breaks a tie.
func (s *State) markFirst(quiet bool) {
	s.any = s.anyActive()
	if !quiet || !s.any {
		return
	}
	first := -1
	for i := range s.out.n {
		tr := &s.out.changes[i]
		if tr.Raised && (first < 0 || tr.Onset < s.out.changes[first].Onset) {
			first = i
		}
	}
	if first < 0 {
		return
	}
	tr := &s.out.changes[first]
	s.first = tr.Alarm
	if p := s.under[tr.Alarm]; p != noAlarm {
		s.first = p // the cause, where both came at once
	}
	for i := range s.out.n {
		s.out.changes[i].First = s.out.changes[i].Raised && s.out.changes[i].Alarm == s.first
	}
	if !s.totals.HasFirst {
		s.totals.HasFirst, s.totals.FirstOut = true, s.first
	}
}

// tellTransitions adds to this step's transitions what became of them.
func (s *State) tellTransitions() {
	for i := range s.out.n {
		tr := &s.out.changes[i]
		if r, ok := tr.Alarm.Rule(); ok {
			tr.Assumed = s.out.Rules[r].Assumed
		}
		tr.Phase = s.lives[tr.Alarm].Phase()
		tr.Under, tr.HasCause = s.under[tr.Alarm], s.under[tr.Alarm] != noAlarm
	}
}

func (s *State) publishAlarms() {
	s.out.Level, s.out.Calling = Normal, 0
	for i := range s.alarms {
		a := AlarmID(i)
		quiet := !s.alarms[i].Active && s.lives[i] == alarm.Life{}
		if quiet && s.out.Alarms[i].Phase == alarm.Normal && !s.out.Alarms[i].Active {
			continue // nothing to tell, and nothing was told
		}
		s.out.Alarms[i] = s.standingOf(a)
		s.out.Level = max(s.out.Level, s.standing(a))
		if s.lives[i].Calls() {
			s.out.Calling++
		}
	}
}

func (s *State) standingOf(a AlarmID) Standing {
	st, l := &s.alarms[a], &s.lives[a]
	o := Standing{Phase: l.Phase()}
	if !st.Active && o.Phase == alarm.Normal {
		return o
	}
	o.Active, o.Level, o.Since, o.Onset = st.Active, s.levels[a], st.Since, st.Onset
	o.FirstOut = st.Active && s.any && a == s.first
	o.Under, o.HasCause = s.under[a], st.Active && s.under[a] != noAlarm
	o.Chatter = s.chatter[a].On(s.last)
	o.ShelvedUntil, _ = l.ShelvedUntil()
	return o
}
