package app

import (
	"context"
	"errors"
	"fmt"

	"headroom/daemon/store"
)

// noter is what outputs are that have something to tell: a stop, an override,
// a reset that was refused.
type noter interface {
	NoteTo(func(what string))
}

// outputsName is who the outputs are in the record.
const outputsName = "outputs"

// stopped is what outputs say when they stop the machine: the minutes around
// it are kept longest.
const stopped = "the stop relay opened"

// noteOutputs puts what outputs tell into the record.
func (a *App) noteOutputs() {
	if n, ok := a.opt.Outputs.(noter); ok && a.keeper != nil {
		n.NoteTo(func(what string) {
			act := a.actNow(outputsName, what)
			act.Incident = what == stopped
			a.keeper.scribe.add(act, nil)
		})
	}
}

// maxNote is the longest note, in characters: a whole checklist with its
// reasons, and far less than fills the file of the last minutes.
const maxNote = 8000

// Note records what a person did besides acting on alarms, such as going
// through a checklist: what in a word, text in full, who as the person gave
// the name. Of text and who only what can be seen is kept, in one line and up
// to maxNote characters. It returns when that is safe. The error wraps
// ErrNotRecorded.
func (a *App) Note(ctx context.Context, what, text, who string) error {
	if what == "" {
		return errors.New("cannot note what has no name")
	}
	if a.keeper == nil {
		return fmt.Errorf("%w: this program keeps no record", ErrNotRecorded)
	}
	recorded := make(chan error, 1)
	act := a.actNow(who, what)
	act.Text = text
	act = act.Plain()
	if all := []rune(act.Text); len(all) > maxNote {
		act.Text = string(all[:maxNote])
	}
	a.keeper.scribe.add(act, recorded)
	if what == "calibration" {
		a.noteCalibrations()
	}
	return awaitRecorded(ctx, recorded)
}

// actNow begins an act that is dated to the last tick.
func (a *App) actNow(who, what string) store.Act {
	t := a.lastTick()
	return store.Act{T: t, Wall: a.wall(), Who: who, What: what}
}
