package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"syscall"
	"time"

	"headroom/daemon/medium"
	"headroom/daemon/record"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
	"headroom/rules/engine"
)

const (
	// systemEvery is how often the program looks after itself.
	systemEvery = time.Second
	// mediumEvery is how often it asks what is left on the medium.
	mediumEvery = 10 * time.Second
	// hangsAfter is when a write that doesn't come back is told. Cards have
	// been seen to pause for a second or two while they tidy up; common
	// practice, no source.
	hangsAfter = 5 * time.Second
	// lossStands is how long after the last lost frame the loss is told.
	lossStands = 10 * time.Minute
	// halfFor is how long a failure of the tail may last until the database
	// stands in for it; nothing is lost until then.
	halfFor = 20 * time.Second
	// clearAbove keeps an alarm at the limit from coming and going.
	clearAbove = 1.2
)

// systemState is what stands about the program itself.
type systemState struct {
	alarms      []snapshot.SystemAlarm
	recordError string
	// run goes on since runBegan; empty for none.
	run      string
	runBegan time.Duration
}

// looked is what the watch over the program itself sees at one moment.
type looked struct {
	now   time.Duration
	at    time.Time
	queue record.Health
	// open is true with a record, whose health is store.
	open  bool
	store store.Health
	// medium is what the folder lies on; mediumErr where that can't be told.
	medium    medium.Medium
	mediumErr error
	warnFree  int64
}

// systemWatch raises the alarms about the program itself.
type systemWatch struct {
	stands [snapshot.NumSystemIDs]snapshot.SystemAlarm
	on     [snapshot.NumSystemIDs]bool
	// failing is since when the queue has had an error; lost and lostAt are
	// the frames that were dropped last.
	failing time.Time
	lost    uint64
	lostAt  time.Time
}

// look raises and clears, and returns what changed.
func (w *systemWatch) look(l *looked) (changed []snapshot.SystemID) {
	for id, status := range w.judge(l) {
		a := &w.stands[id]
		was := w.on[id]
		w.on[id] = status != ""
		if was != w.on[id] {
			changed = append(changed, snapshot.SystemID(id))
			a.Since = l.now
		}
		a.ID, a.Level = snapshot.SystemID(id), systemLevel(snapshot.SystemID(id))
		if status != "" {
			a.Status = status
		}
	}
	return changed
}

// judge says for each alarm what is wrong, empty for nothing.
func (w *systemWatch) judge(l *looked) (status [snapshot.NumSystemIDs]string) {
	w.remember(l)
	switch {
	case l.queue.LastError == "":
	case !l.open || l.store.SealError != "" || l.at.Sub(w.failing) >= halfFor:
		status[snapshot.RecordFailing] = l.plain() + ": " + l.queue.LastError
	default:
		status[snapshot.RecordHalf] = l.queue.LastError
	}
	if l.open && status[snapshot.RecordFailing] == "" {
		status[snapshot.RecordHalf] = firstOf(l.store.SealError, l.store.TailError, status[snapshot.RecordHalf])
	}
	status[snapshot.RecordLosing] = w.losing(l)
	if n := len(l.store.Problems); n > 0 {
		status[snapshot.RecordDamaged] = strings.Join(l.store.Problems[:min(n, 3)], "; ")
	}
	if l.mediumErr == nil {
		status[snapshot.RecordSpace] = w.space(l)
		status[snapshot.RecordVolatile] = volatile(&l.medium)
	}
	return status
}

// remember follows what has a history.
func (w *systemWatch) remember(l *looked) {
	if l.queue.LastError == "" {
		w.failing = time.Time{}
	} else if w.failing.IsZero() {
		w.failing = l.at
	}
	if l.queue.Dropped != w.lost {
		w.lost, w.lostAt = l.queue.Dropped, l.at
	}
}

func (w *systemWatch) losing(l *looked) string {
	switch {
	case l.queue.Hanging >= hangsAfter:
		return fmt.Sprintf("the medium has not answered for %v; %d frames wait, %d are lost", l.queue.Hanging.Round(time.Second), l.queue.Waiting, l.queue.Dropped)
	case w.lost > 0 && l.at.Sub(w.lostAt) < lossStands:
		text := fmt.Sprintf("%d frames could not be recorded since the start", w.lost)
		if n := l.queue.DroppedChanges; n > 0 {
			text += fmt.Sprintf(", nor alarms that came or went in them, %d times", n)
		}
		return text
	}
	return ""
}

// space tells of a medium that is nearly full. Where the whole medium is small
// a tenth of it is enough.
func (w *systemWatch) space(l *looked) string {
	limit := float64(min(l.warnFree, l.medium.TotalBytes/10))
	if w.on[snapshot.RecordSpace] {
		limit *= clearAbove
	}
	switch m := &l.medium; {
	case l.warnFree <= 0:
	case float64(m.FreeBytes) < limit:
		return fmt.Sprintf("%.0f MB of %.0f MB are free", float64(m.FreeBytes)/1e6, float64(m.TotalBytes)/1e6)
	case m.FreeFiles >= 0 && m.FreeFiles < leastFiles:
		return fmt.Sprintf("no more than %d files can be made", m.FreeFiles)
	}
	return ""
}

// leastFiles is what the record and the settings need with some room.
const leastFiles = 50

func volatile(m *medium.Medium) string {
	switch m.Keeps {
	case medium.LosesIt:
		return "the folder lies in memory (" + m.Type + ")"
	case medium.MayLoseIt:
		return "the folder lies in a layer (" + m.Type + ") that may be thrown away"
	}
	return ""
}

func firstOf(texts ...string) string {
	for _, t := range texts {
		if t != "" {
			return t
		}
	}
	return ""
}

// systemLevel: none of these hurts a pump, so none asks to act at once; what
// costs the record now or soon is a warning.
func systemLevel(id snapshot.SystemID) engine.Level {
	switch id {
	case snapshot.RecordFailing, snapshot.RecordLosing, snapshot.RecordHalf:
		return engine.Warning
	}
	return engine.Advice
}

// plain is the error of the disk as a person says it. The database gives its
// own texts for the same troubles; source: sqlite.org/rescode.html.
func (l *looked) plain() string {
	err := l.queue.Cause
	if err == nil {
		return "nothing can be written"
	}
	has := func(text string) bool { return strings.Contains(err.Error(), text) }
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), has("database or disk is full"):
		return "disk full"
	case errors.Is(err, syscall.EROFS), has("readonly database"), l.mediumErr == nil && l.medium.ReadOnly:
		return "the medium is read-only"
	case errors.Is(err, syscall.EIO), has("disk I/O error"):
		return "the medium fails"
	case errors.Is(err, syscall.EACCES), errors.Is(err, syscall.EPERM), has("unable to open database file"):
		return "the program may not write there"
	}
	return "nothing can be written"
}

// state is what pages and metrics read, the worst first.
func (w *systemWatch) state() *systemState {
	s := &systemState{}
	for id := range w.stands {
		if w.on[id] {
			s.alarms = append(s.alarms, w.stands[id])
		}
	}
	slices.SortStableFunc(s.alarms, func(a, b snapshot.SystemAlarm) int { return int(b.Level) - int(a.Level) })
	if w.on[snapshot.RecordFailing] {
		s.recordError = w.stands[snapshot.RecordFailing].Status + ". " + snapshot.RecordFailing.Text().Action
	}
	return s
}

// watchSystem looks after the program itself until ctx ends.
func (a *App) watchSystem(ctx context.Context) {
	if a.keeper == nil {
		return
	}
	var w systemWatch
	var m mediumWatch
	m.look(a.opt.Folder)
	every := time.NewTicker(systemEvery)
	defer every.Stop()
	for n := 0; ; n++ {
		if n%int(mediumEvery/systemEvery) == 0 {
			m.look(a.opt.Folder)
		}
		l := looked{now: a.lastTick(), at: time.Now(), queue: a.keeper.queue.Health(), warnFree: a.opt.Config.Record.WarnFreeBytes}
		l.medium, l.mediumErr = m.last()
		if s := a.Record(); s != nil {
			l.open, l.store = true, s.Health()
		}
		changed := w.look(&l)
		state := w.state()
		if l.store.Run > 0 {
			state.run, state.runBegan = store.RunID{Boot: l.store.Boot, N: l.store.Run}.String(), l.store.RunBegan
		}
		a.system.Store(state)
		for _, id := range changed {
			a.saySystem(&w, id)
		}
		select {
		case <-ctx.Done():
			return
		case <-every.C:
		}
	}
}

// saySystem logs one coming or going.
func (a *App) saySystem(w *systemWatch, id snapshot.SystemID) {
	if w.on[id] {
		a.log.Warn("system alarm", "alarm", id, "title", id.Text().Title, "why", w.stands[id].Status, "do", id.Text().Action)
		return
	}
	a.log.Info("system alarm returned to normal", "alarm", id, "title", id.Text().Title)
}
