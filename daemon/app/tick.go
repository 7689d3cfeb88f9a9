package app

import (
	"context"
	"math"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/words"
	"headroom/sensors"
)

// tickStep is how finely ticks are dated. Nothing that is judged here changes
// within a millisecond, and whole milliseconds take next to no room in the
// record. They are rounded before the engine sees them, so that the record
// holds the very times that were judged.
const tickStep = time.Millisecond

// flowStep is how finely flow is kept, in m3/s: a sixteen-thousandth of a litre
// a minute, which no meter on a jetter can tell. Flow comes from counted pulses
// as a quotient whose last digits are noise to people and records, and would
// take most of the record's room.
const flowStep = 1e-9

// tick steps the engine at a steady pace until ctx ends. It waits for nobody:
// the board and the store are copies under a short lock, the record is a
// bounded queue.
func (a *App) tick(ctx context.Context) {
	t := time.NewTicker(time.Duration(float64(a.opt.Tick) / a.opt.Speed))
	defer t.Stop()
	last := a.clock()
	for {
		select {
		case <-ctx.Done():
			return
		case r := <-a.asked:
			a.answer(r)
			continue
		case <-t.C:
		}
		now := a.clock()
		if now-last > a.opt.Tick*3/2 {
			a.late++
		}
		last = now
		if a.resting() {
			continue
		}
		// Two ticks that a busy computer lets through together are one.
		if at := now.Truncate(tickStep); at > a.lastTick() {
			a.step(at)
		}
	}
}

// resting reports whether a driver has nothing to read for a time.
func (a *App) resting() bool {
	for _, d := range a.opt.Drivers {
		if r, ok := d.(sensors.Rester); ok && r.Resting() {
			return true
		}
	}
	return false
}

// lastTick is the time of the last step, 0 before the first. Safe for use by
// many goroutines.
func (a *App) lastTick() time.Duration { return time.Duration(a.ticked.Load()) }

// step takes one frame through the engine and hands the outcome on.
func (a *App) step(now time.Duration) {
	var f frame.Frame
	a.board.Frame(now, &f)
	f.Samples[frame.Flow].Value = math.Round(f.Samples[frame.Flow].Value/flowStep) * flowStep
	a.ticked.Store(int64(now))
	v := a.engine.Step(&a.state, &f, now)
	a.seq++
	s := &snapshot.Snapshot{
		Seq: a.seq, Mono: now, Wall: a.wall(), Verdicts: *v,
		Notes: a.board.Notes(), Totals: a.state.Totals(), Health: a.health(),
	}
	a.store.Publish(s)
	a.tell(v, now)
	a.recordFrame(s, &f)
	for _, tr := range v.Transitions() {
		a.say(tr)
	}
	if len(v.Transitions()) > 0 || a.seq%keepEvery == 0 {
		a.keepAlarms()
	}
}

// say logs one alarm's coming or going.
func (a *App) say(tr engine.Transition) {
	what := "alarm returned to normal"
	if tr.Raised {
		what = "alarm"
	}
	under := ""
	if tr.HasCause {
		under = tr.Under.String()
	}
	a.log.Info(what, "alarm", tr.Alarm, "level", tr.Level, "title", words.Alarm(tr.Alarm).Title,
		"machine", tr.Machine, "first_out", tr.First, "under", under)
}

// health is what this program has to say of itself.
func (a *App) health() snapshot.Health {
	h := snapshot.Health{LateTicks: a.late, Restarts: a.sup.Restarts(), Notify: a.notified()}
	if a.keeper != nil {
		h.RecordDropped = a.keeper.queue.Health().Dropped
	}
	if s := a.system.Load(); s != nil {
		h.System, h.RecordError = s.alarms, s.recordError
		h.Run, h.RunBegan = s.run, s.runBegan
	}
	return h
}
