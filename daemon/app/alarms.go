package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"headroom/daemon/snapshot"
	"headroom/daemon/wholefile"
	"headroom/rules/alarm"
	"headroom/rules/engine"
)

// asked is a person's act on its way to the tick, the only one who may touch
// the engine's state.
type asked struct {
	alarm engine.AlarmID
	act   alarm.Act
	shelf time.Duration
	who   string
	reply chan<- answered
}

type answered struct {
	did engine.Did
	err error
}

// ErrNotNow means that an act makes no sense for the alarm as it stands.
var ErrNotNow = errors.New("that can't be done with this alarm now")

// Do applies a person's act to an alarm. It waits for the tick's answer, or
// for ctx. ErrNotNow means that nothing was changed.
func (a *App) Do(ctx context.Context, id engine.AlarmID, act alarm.Act, shelf time.Duration, who string) (engine.Did, error) {
	reply := make(chan answered, 1)
	select {
	case a.asked <- asked{id, act, shelf, who, reply}:
	case <-ctx.Done():
		return engine.Did{}, fmt.Errorf("the act was not taken: %w", context.Cause(ctx))
	}
	select {
	case r := <-reply:
		return r.did, r.err
	case <-ctx.Done():
		return engine.Did{}, fmt.Errorf("no answer to the act: %w", context.Cause(ctx))
	}
}

// answer applies an act between two steps.
func (a *App) answer(r asked) {
	did, ok := a.engine.Do(&a.state, r.alarm, r.act, a.clock(), r.shelf)
	if !ok {
		r.reply <- answered{err: ErrNotNow}
		return
	}
	a.store.NoteAct(snapshot.ActEvent{Wall: time.Now(), Who: r.who, Did: did})
	a.noteAct(r.who, did)
	a.keepAlarms()
	a.log.Info("act", "act", did.Act, "alarm", did.Alarm, "who", r.who, "phase", did.Phase)
	r.reply <- answered{did: did}
}

// keptFile holds the alarms as they stood, so that a restart loses none.
const keptFile = "alarms.json"

// keptAlarm is one alarm in the file, by names that outlive a new version's
// numbers.
type keptAlarm struct {
	Alarm     string  `json:"alarm"`
	Phase     string  `json:"phase"`
	Active    bool    `json:"active,omitempty"`
	Level     uint8   `json:"level,omitempty"`
	Out       bool    `json:"out_of_service,omitempty"`
	Shelved   bool    `json:"shelved,omitempty"`
	ShelfLeft float64 `json:"shelf_left_s,omitempty"`
}

// keepEvery is how many ticks may pass before a shelf's remaining time is
// written again.
const keepEvery = 600

// keepAlarms hands the alarms to the goroutine that writes them; the newest
// wins, so a slow disk never delays the tick.
func (a *App) keepAlarms() {
	if a.opt.Folder == "" {
		return
	}
	k := a.state.Keep()
	if k == a.lastKept {
		return
	}
	a.lastKept = k
	select {
	case <-a.kept:
	default:
	}
	a.kept <- k
}

// writeAlarms writes what keepAlarms hands over, until ctx ends.
func (a *App) writeAlarms(ctx context.Context) {
	for {
		select {
		case k := <-a.kept:
			a.writeKept(&k)
		case <-ctx.Done():
			select {
			case k := <-a.kept:
				a.writeKept(&k)
			default:
			}
			return
		}
	}
}

func (a *App) writeKept(k *[engine.NumAlarms]engine.Kept) {
	var list []keptAlarm
	for i := range k {
		if k[i] == (engine.Kept{}) {
			continue
		}
		l := k[i].Life
		list = append(list, keptAlarm{
			Alarm: engine.AlarmID(i).String(), Phase: l.Base.String(), Active: k[i].Active, Level: uint8(k[i].Level),
			Out: l.Out, Shelved: l.Shelved, ShelfLeft: l.ShelfLeft.Seconds(),
		})
	}
	data, err := json.MarshalIndent(list, "", " ")
	if err == nil {
		err = wholefile.Write(filepath.Join(a.opt.Folder, keptFile), append(data, '\n'))
	}
	if err != nil {
		a.log.Warn("the alarms could not be kept for a restart", "error", err)
	}
}

// restoreAlarms begins with the alarms of the run before. A file that can't be
// read costs the alarms' history and nothing else, and is said.
func (a *App) restoreAlarms() {
	data, err := os.ReadFile(filepath.Join(a.opt.Folder, keptFile))
	if errors.Is(err, fs.ErrNotExist) {
		return
	}
	var list []keptAlarm
	if err == nil {
		err = json.Unmarshal(data, &list)
	}
	if err != nil {
		a.log.Warn("the alarms of the run before can't be read; they begin anew", "error", err)
		return
	}
	var k [engine.NumAlarms]engine.Kept
	for _, l := range list {
		id, ok := engine.AlarmByName(l.Alarm)
		phase, known := alarm.PhaseByName(l.Phase)
		if !ok || !known {
			continue // of another version
		}
		k[id] = engine.Kept{Active: l.Active, Level: engine.Level(l.Level), Life: alarm.Kept{
			Base: phase, Out: l.Out, Shelved: l.Shelved, ShelfLeft: time.Duration(l.ShelfLeft * float64(time.Second)),
		}}
	}
	a.state.Restore(&k)
}
