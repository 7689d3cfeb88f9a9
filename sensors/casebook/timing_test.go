package casebook_test

import (
	"fmt"
	"time"

	"headroom/rules/engine"
)

// timed is one raising with what the oracle says of it.
type timed struct {
	span
	// onset is when the true value passed the limit for the last time before
	// the raising, or the rule began to apply; latency is the time from there.
	onset, latency time.Duration
	// bound is the longest latency that delay, filters, sensor and one tick
	// explain; 0 where the value stays so near the limit that noise decides.
	bound time.Duration
}

// judgeTiming holds one run's alarms against the oracle, each to the tick, and
// returns what is wrong: raised without cause, too late, missed; and the same
// of going back.
func (tp *tape) judgeTiming(r *run) (all []timed, wrong []string) {
	var spans [engine.NumAlarms][]span
	for _, s := range r.spans {
		spans[s.alarm] = append(spans[s.alarm], s)
	}
	for a := range engine.AlarmID(engine.NumAlarms) {
		st := stageOf(&tp.cfg, a)
		if !st.present {
			if len(spans[a]) > 0 {
				wrong = append(wrong, alarmName(a)+" is off and was raised")
			}
			continue
		}
		f := follower{tp: tp, stage: st, alarm: a}
		f.walk(spans[a])
		all, wrong = append(all, f.all...), append(wrong, f.wrong...)
	}
	return all, wrong
}

// follower goes through a tape beside one alarm.
type follower struct {
	tp    *tape
	stage stage
	alarm engine.AlarmID
	all   []timed
	wrong []string

	// since is how long the optimist and the pessimist among two judges have
	// seen what raises the alarm, or clears it while it stands: the one with
	// the noise in favour, the other with it against.
	since [2]time.Duration
	sees  [2]bool
	due   time.Duration
}

const (
	optimist = iota
	pessimist
)

func (f *follower) walk(spans []span) {
	var active *timed
	f.reset()
	for k := range f.tp.oracle {
		t := time.Duration(k+1) * tick
		off, hold := f.rests(k)
		f.look(k, t, active != nil, hold || off)
		switch {
		case active == nil && len(spans) > 0 && spans[0].at == t:
			f.all = append(f.all, timed{span: spans[0]})
			active, spans = &f.all[len(f.all)-1], spans[1:]
			f.raised(k, t, active)
		case active != nil && active.gone == t:
			if !off && !f.may(t, f.stage.off) {
				f.say("%s went back at %s without reason", t)
			}
			active = nil
			f.reset()
		case active == nil:
			f.late(t, "%s is missing or late at %s: it was due at %s")
		default:
			if off {
				f.say("%s stands at %s while its rule rests", t)
				return
			}
			f.late(t, "%s still stands at %s: it was due to go at %s")
		}
	}
}

func (f *follower) reset() { f.sees, f.due = [2]bool{}, 0 }

// rests reports whether the rule rests, which puts its alarm back at once, and
// whether it can't judge, which holds it.
func (f *follower) rests(k int) (off, hold bool) {
	if f.stage.isSensor {
		return false, false
	}
	j := f.tp.oracle[k].judge[f.stage.rule]
	return !j.Answers() && !j.Blind(), j.Blind()
}

// look lets both judges see one tick.
func (f *follower) look(k int, t time.Duration, standing, blind bool) {
	m := &f.tp.oracle[k]
	for i := range f.sees {
		sees := !blind && f.sight(m, i, standing)
		if sees && !f.sees[i] {
			f.since[i] = t
		}
		f.sees[i] = sees
	}
	delay := f.stage.on
	if standing {
		delay = f.stage.off
	}
	if f.due == 0 && f.sees[pessimist] && t-f.since[pessimist] >= delay {
		f.due = t
	}
}

func (f *follower) sight(m *moment, judge int, standing bool) bool {
	s := &f.stage
	if s.isSensor {
		return m.bad[s.channel] != standing
	}
	toward := m.toward[s.rule]
	away := m.away[s.rule]
	if standing {
		toward, away = away, toward
		if judge == pessimist {
			return inside(s.rule, away, s.limit, s.deadband)
		}
		return inside(s.rule, toward, s.limit, s.deadband)
	}
	if judge == pessimist {
		return beyond(s.rule, away, s.limit)
	}
	return beyond(s.rule, toward, s.limit)
}

// may reports whether the optimist allows a change after the delay.
func (f *follower) may(t, delay time.Duration) bool {
	return f.sees[optimist] && t-f.since[optimist] >= delay-tick
}

// late complains once where the pessimist's time is over.
func (f *follower) late(t time.Duration, format string) {
	if f.due > 0 && t > f.due+tick {
		f.wrong = append(f.wrong, fmt.Sprintf(format, alarmName(f.alarm), clock(t), clock(f.due)))
		f.reset()
	}
}

func (f *follower) say(format string, t time.Duration) {
	f.wrong = append(f.wrong, fmt.Sprintf(format, alarmName(f.alarm), clock(t)))
}

// raised notes onset, latency and bound of one raising.
func (f *follower) raised(k int, t time.Duration, r *timed) {
	if !f.may(t, f.stage.on) {
		f.say("%s came at %s without reason", t)
	}
	r.onset = f.onset(k)
	r.latency = t - r.onset
	if due := f.dueAt(k); due > 0 {
		r.bound = due + tick - r.onset
	}
	f.reset()
}

// onset goes back to when the true value passed the limit.
func (f *follower) onset(k int) time.Duration {
	for ; k >= 0; k-- {
		m := &f.tp.oracle[k]
		off, hold := f.rests(k)
		truth := f.stage.isSensor && m.bad[f.stage.channel] ||
			!f.stage.isSensor && beyond(f.stage.rule, m.truth[f.stage.rule], f.stage.limit)
		if off || hold || !truth {
			break
		}
	}
	return time.Duration(k+2) * tick
}

// dueAt is the pessimist's time for a raising that has just come, looked for
// ahead where it has come before it.
func (f *follower) dueAt(k int) time.Duration {
	if f.due > 0 {
		return f.due
	}
	ahead := *f
	for k++; k < len(f.tp.oracle); k++ {
		off, hold := f.rests(k)
		if off {
			return 0
		}
		ahead.look(k, time.Duration(k+1)*tick, false, hold)
		if ahead.due > 0 {
			return ahead.due
		}
	}
	return 0
}

func clock(d time.Duration) string {
	return fmt.Sprintf("%d:%04.1f", int(d/time.Minute), (d % time.Minute).Seconds())
}
