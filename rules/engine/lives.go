package engine

import (
	"time"

	"headroom/rules/alarm"
)

// noAlarm stands for none.
const noAlarm = AlarmID(NumAlarms)

// live takes this step's transitions into the alarms' lives, puts consequences
// under their causes, and counts what calls for a person now and did not
// before.
func (e *Engine) live(s *State, t time.Duration) {
	for i := range s.out.n {
		e.turn(s, &s.out.changes[i], t)
	}
	s.group(&e.cfg.Signals)
	for i := range s.lives {
		l := &s.lives[i]
		l.Tend(t, s.under[i] != noAlarm)
		calls := l.Calls()
		if calls && !s.called[i] {
			s.totals.Annunciated++
			s.flood.Note(t)
		}
		s.called[i] = calls
	}
	s.out.Flood = s.flood.Step(t)
}

// turn takes one transition into its alarm's life.
func (e *Engine) turn(s *State, tr *Transition, t time.Duration) {
	l := &s.lives[tr.Alarm]
	if tr.Raised {
		l.Raise()
		s.chatter[tr.Alarm].Note(t)
		return
	}
	l.Clear(e.latches(tr.Alarm))
	if tr.Level <= e.cfg.QuietReturn {
		l.Settle()
	}
}

// latches reports whether the alarm stays until a person resets it.
func (e *Engine) latches(a AlarmID) bool {
	r, ok := a.Rule()
	return ok && a == ActAlarm(r) && e.cfg.Rules[r].Latch
}

// Did is what became of a person's act.
type Did struct {
	T     time.Duration
	Alarm AlarmID
	Act   alarm.Act
	// Phase after the act, and how long an alarm was shelved for.
	Phase alarm.Phase
	Shelf time.Duration
	// With marks the other alarms that the same act changed: the person saw
	// them as one with Alarm, which is not marked itself.
	With [NumAlarms]bool
}

// Names are the names of the alarms in With, in the order of their numbers; nil
// for none.
func (d *Did) Names() (names []string) {
	for i, with := range d.With {
		if with {
			names = append(names, AlarmID(i).String())
		}
	}
	return names
}

// Do applies a person's act to an alarm at the monotonic time t, between two
// steps. ok is false, and nothing changes, where the act means nothing now:
// for example the reset of an alarm whose condition stands. The same acts at
// the same times give the same state again, so a replay that has them needs
// no person.
func (e *Engine) Do(s *State, a AlarmID, act alarm.Act, t, shelf time.Duration) (did Did, ok bool) {
	if int(a) >= NumAlarms {
		return Did{}, false
	}
	l := &s.lives[a]
	until, _ := l.ShelvedUntil()
	if !l.Do(act, t, shelf) {
		return Did{}, false
	}
	if act == alarm.Acknowledge {
		s.acked[a] = t
	}
	did = Did{T: t, Alarm: a, Act: act, Shelf: shelf, With: s.doUnder(a, act, until, t, shelf)}
	for i := range s.lives {
		s.called[i] = s.lives[i].Calls()
	}
	s.publishAlarms()
	did.Phase = l.Phase()
	return did, true
}

// doUnder acknowledges or shelves what stands under an alarm too, and takes
// back together what was shelved together: the person saw them as one. It
// returns which it changed.
func (s *State) doUnder(a AlarmID, act alarm.Act, until, t, shelf time.Duration) (with [NumAlarms]bool) {
	for i := range s.lives {
		if AlarmID(i) == a {
			continue
		}
		l := &s.lives[i]
		switch act {
		case alarm.Acknowledge, alarm.Shelve:
			if s.under[i] == a {
				with[i] = l.Do(act, t, shelf)
			}
		case alarm.Unshelve:
			if u, shelved := l.ShelvedUntil(); shelved && u == until {
				with[i] = l.Do(act, t, 0)
			}
		}
	}
	return with
}

// Kept is one alarm as it must survive a restart.
type Kept struct {
	Life   alarm.Kept
	Active bool
	Level  Level
}

// Keep returns every alarm as it stands at the time of the last step.
func (s *State) Keep() (k [NumAlarms]Kept) {
	for i := range k {
		k[i] = Kept{Life: s.lives[i].Keep(s.last), Active: s.alarms[i].Active, Level: s.levels[i]}
	}
	return k
}

// Restore makes a state that begins with the alarms of an earlier one. An
// alarm that stood stands on until its rule has judged again: a restart is no
// reason to call anything well. What was shelved asks again: how long the
// machine stood without power nobody knows, and a shelf meant for one shift
// must not hide an alarm on the next. What no alarm can be is left normal.
func (s *State) Restore(k *[NumAlarms]Kept) {
	for i := range k {
		life := k[i].Life // what was kept stays as it is, for who runs it again
		life.Shelved, life.ShelfLeft = false, 0
		if k[i].Level > Act || !s.lives[i].Restore(life, 0) {
			s.lives[i] = alarm.Life{}
			continue
		}
		s.alarms[i] = alarm.State{Active: k[i].Active && s.lives[i].Standing()}
		s.levels[i] = k[i].Level
		s.called[i] = s.lives[i].Calls()
	}
	s.any = s.anyActive()
	s.first = noAlarm
	s.forgetCauses()
	s.group(nil)
	s.publishAlarms()
}
