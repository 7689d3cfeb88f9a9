package app

import (
	"context"
	"time"

	"headroom/daemon/journal"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/units"
)

// noter is what outputs are that have something to tell: a stop, an override,
// a reset that was refused.
type noter interface {
	NoteTo(func(what string))
}

// openJournal begins to note what people and outputs do.
func (a *App) openJournal() {
	a.journal = journal.New(a.opt.Folder, a.log)
	if n, ok := a.opt.Outputs.(noter); ok {
		n.NoteTo(func(what string) { a.note("outputs", what, "", "") })
	}
}

func (a *App) note(who, what, to, detail string) {
	if a.journal != nil {
		a.journal.Add(journal.Entry{Wall: time.Now(), MonoNs: int64(a.clock()), Who: who, What: what, To: to, Detail: detail})
	}
}

func (a *App) noteAct(who string, did engine.Did) {
	detail := "now " + did.Phase.Words()
	if did.Act == alarm.Shelve {
		detail += ", for " + units.Format(units.Duration, units.SI, did.Shelf.Seconds())
	}
	a.note(who, did.Act.String(), did.Alarm.String(), detail)
}

func (a *App) writeJournal(ctx context.Context) {
	if a.journal != nil {
		a.journal.Run(ctx)
	}
}
