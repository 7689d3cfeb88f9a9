package remote

import (
	"context"
	"maps"
	"math"
	"slices"
	"time"

	"headroom/daemon/store"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// teller turns one minute into samples.
type teller struct {
	w    *walk
	m    *span
	out  *batch // nil where the minute was sent already
	wide width
	at   stamper

	win    window
	winEnd time.Duration
	// whole is the window of the whole minute, for statuses.
	whole window
	least [engine.NumRules]float64
	blind int
	final *engine.Verdicts
}

// tell goes through the minute's frames in their order, and writes readings,
// alarms at their very time, and at the end what is told once a minute. With
// out nil it only brings the boot's memory forward.
func (w *walk) tell(ctx context.Context, m *span, wide width, at *place, out *batch) error {
	t := &teller{w: w, m: m, out: out, wide: wide, at: stamper{w.notes, at}}
	for r := range t.least {
		t.least[r] = math.Inf(1)
	}
	if len(m.ticks) == 0 {
		return t.empty(ctx)
	}
	first := w.last == 0
	for i := range m.ticks {
		t.tick(&m.ticks[i], first && i == 0)
	}
	t.flush(min(t.winEnd, t.end()))
	t.alarms(t.end())
	t.minute(t.end())
	return nil
}

// end is the time of the minute's own samples: its end, or the boot's.
func (t *teller) end() time.Duration {
	if t.m.final {
		return t.m.ticks[len(t.m.ticks)-1].T
	}
	return t.m.to
}

func (t *teller) tick(tick *store.Tick, first bool) {
	if t.winEnd == 0 {
		t.winEnd = t.wide.end(t.m.from, tick.T)
	}
	if tick.T > t.winEnd {
		t.flush(t.winEnd)
		t.winEnd = t.wide.end(t.m.from, tick.T)
	}
	v := t.w.judge.step(tick)
	t.win.add(&tick.Frame, v)
	t.whole.add(&tick.Frame, v)
	if v != nil {
		t.note(v)
		if first {
			t.standing(v)
		}
	}
	t.alarms(tick.T)
}

// note keeps the least headroom and the blindest moment.
func (t *teller) note(v *engine.Verdicts) {
	t.final = v
	t.blind = max(t.blind, v.Blind)
	for r := range v.Rules {
		if x := &v.Rules[r]; x.Judge == engine.Watching && x.Share < t.least[r] {
			t.least[r] = x.Share
		}
	}
}

// standing takes over the alarms that a boot began with: no event tells of
// them.
func (t *teller) standing(v *engine.Verdicts) {
	for a := range v.Alarms {
		if v.Alarms[a].Active {
			t.w.memo.standing[a] = v.Alarms[a].Level
		}
	}
}

// alarms writes the events of the record up to a time, each at its own. What
// the machine said then counts, even where this version would judge otherwise.
func (t *teller) alarms(upTo time.Duration) {
	mem := &t.w.memo
	for i := range t.w.events {
		e := &t.w.events[i]
		id, ok := engine.AlarmByName(e.Alarm)
		if e.T <= mem.told || e.T > upTo || !ok { // not ok: of another version
			continue
		}
		level, was := engine.Level(e.LevelN), mem.standing[id]
		if !e.Raised && was != engine.Normal {
			level = was
		}
		mem.standing[id] = engine.Normal
		if e.Raised {
			mem.standing[id] = level
		}
		if t.out != nil {
			t.out.add(nameAlarm, t.at.ms(e.T), truth(e.Raised), "alarm", e.Alarm, "level", level.String())
		}
	}
	mem.told = upTo
}

// flush ends a window.
func (t *teller) flush(end time.Duration) {
	if t.wide > 0 && t.out != nil {
		t.win.send(t.out, t.at.ms(end))
	}
	t.win = window{}
}

// empty is a minute without frames: the program stood still, or they are gone.
func (t *teller) empty(ctx context.Context) error {
	t.alarms(t.m.to)
	if t.out == nil {
		return nil
	}
	ms := t.at.ms(t.m.to)
	if !t.m.thinned() {
		t.out.add(nameFresh, ms, 0)
		return nil
	}
	for ch := range frame.NumChannels {
		bs, err := t.w.rec.Buckets(ctx, store.RunID{Boot: t.w.info.Boot}, ch, t.m.from+1, t.m.to, 1)
		if err != nil {
			return err
		}
		for i := range bs {
			t.win.channels[ch].Add(bs[i].Stat)
		}
	}
	t.out.add(nameFresh, ms, 1)
	if t.wide > 0 {
		t.win.send(t.out, ms)
	}
	return nil
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// slow is how often that is sent which doesn't change: within the five minutes
// for which a store looks back.
const slow = 4

// minute writes what is told once a minute.
func (t *teller) minute(end time.Duration) {
	ms, mem := int64(0), &t.w.memo
	if t.out != nil {
		ms = t.at.ms(end)
	}
	t.out.add(nameFresh, ms, 1)
	if t.m.index%slow == 0 {
		t.out.add(nameBuild, ms, 1, "version", t.w.info.Software)
	}
	for a, level := range mem.standing {
		if level > engine.Normal {
			t.out.add(nameAlarm, ms, 1, "alarm", engine.AlarmID(a).String(), "level", level.String())
		}
	}
	t.statuses(ms)
	if t.final == nil {
		return
	}
	if now := t.final.Machine.String(); now != mem.state {
		if mem.state != "" {
			t.out.add(nameState, ms, 0, "state", mem.state)
		}
		mem.state = now
	}
	t.out.add(nameState, ms, 1, "state", mem.state)
	t.out.add(nameBlind, ms, float64(t.blind))
	for r, share := range t.least {
		t.out.add(nameHeadroom, ms, float64(float32(share)), "rule", engine.RuleID(r).String())
	}
	t.counters(ms)
}

// statuses writes the status of each fitted channel: the worst of the minute,
// so that a failure of seconds is seen.
func (t *teller) statuses(ms int64) {
	for ch := range frame.NumChannels {
		now, before := t.whole.status(ch), t.w.memo.status[ch]
		if now != before && before != frame.NotFitted {
			t.out.add(nameStatus, ms, 0, "channel", ch.String(), "status", before.String())
		}
		if now != frame.NotFitted {
			t.out.add(nameStatus, ms, 1, "channel", ch.String(), "status", now.String())
		}
		t.w.memo.status[ch] = now
	}
}

// status is the worst that was seen of a channel, in the order of how little
// the reading is worth.
func (w *window) status(ch frame.Channel) frame.Status {
	seen := w.channels[ch].Seen
	for _, st := range [...]frame.Status{frame.Failed, frame.OutOfBand, frame.Stuck, frame.Suspect, frame.Stale, frame.Missing, frame.Checking, frame.Uncorrected, frame.Service, frame.Good} {
		if seen&(1<<st) != 0 {
			return st
		}
	}
	return frame.NotFitted
}

// counters writes those that moved, and the others now and then.
func (t *teller) counters(ms int64) {
	var all store.Sums
	all.Add(&t.at.at.Base)
	now := t.w.judge.sums()
	all.Add(&now)
	put := func(name string, v float64, pairs ...string) {
		key := name
		for _, p := range pairs {
			key += "\xff" + p
		}
		before, known := t.w.memo.counters[key]
		t.w.memo.counters[key] = v
		if v > 0 && (!known || v != before || t.m.index%slow == 0) {
			t.out.add(name, ms, v, pairs...)
		}
	}
	put(nameStarts, float64(all.Starts))
	put(nameWater, all.WaterM3)
	put(nameEnergy, all.EnergyJ)
	for _, st := range slices.Sorted(maps.Keys(all.InStateS)) {
		put(nameInState, all.InStateS[st], "state", st)
	}
	for _, r := range slices.Sorted(maps.Keys(all.Exposures)) {
		x := all.Exposures[r]
		put(nameBeyond, x.BeyondWarnS, "rule", r, "limit", "warn")
		put(nameBeyond, x.BeyondActS, "rule", r, "limit", "act")
		put(nameWatched, x.WatchedS, "rule", r)
		put(nameBlindTime, x.BlindS, "rule", r)
	}
	for _, a := range slices.Sorted(maps.Keys(all.Raised)) {
		put(nameRaised, float64(all.Raised[a]), "alarm", a)
	}
}
