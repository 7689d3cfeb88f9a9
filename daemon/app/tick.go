package app

import (
	"context"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/words"
)

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
		a.step(now)
	}
}

// step takes one frame through the engine and hands the outcome on.
func (a *App) step(now time.Duration) {
	var f frame.Frame
	a.board.Frame(now, &f)
	v := a.engine.Step(&a.state, &f, now)
	a.seq++
	s := &snapshot.Snapshot{
		Seq: a.seq, Mono: now, Wall: time.Now(), Verdicts: *v,
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
	what := "alarm gone back"
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

func (a *App) health() snapshot.Health {
	h := snapshot.Health{LateTicks: a.late, Restarts: a.sup.Restarts(), Notify: a.notified()}
	if a.keeper != nil {
		q := a.keeper.queue.Health()
		h.RecordDropped, h.RecordError = q.Dropped, q.LastError
		if q.LastError != a.recordError {
			a.recordError = q.LastError
			if q.LastError != "" {
				a.log.Warn("nothing is recorded now", "error", q.LastError)
			} else {
				a.log.Info("recording again")
			}
		}
	}
	return h
}
