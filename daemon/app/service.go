package app

import (
	"context"

	"headroom/daemon/service"
	"headroom/rules/machine"
)

// countLife keeps the service book as the machine works, until ctx ends. It
// reads snapshots like everybody else, so that a slow disk never delays the
// tick. A book that can't be read is left alone, and said so once.
func (a *App) countLife(ctx context.Context) {
	if a.opt.Folder == "" {
		return
	}
	m, err := a.meter()
	if err != nil {
		a.log.Error("the machine's life isn't counted", "error", err)
		return
	}
	for {
		changed := a.store.Changed()
		// What isn't known is not counted: neither as running nor as a start.
		if s := a.store.Latest(); s != nil && s.Verdicts.Machine != machine.Unknown && m.Follow(s.Mono, s.Verdicts.Machine.Turning()) {
			a.saveLife(m)
		}
		select {
		case <-ctx.Done():
			a.saveLife(m)
			return
		case <-changed:
		}
	}
}

// meter is that of the machine's own book, or of practice, which wears nothing.
func (a *App) meter() (*service.Meter, error) {
	if a.opt.Readings.Practice() {
		return service.NewPracticeMeter(a.opt.Folder)
	}
	return service.NewMeter(a.opt.Folder)
}

func (a *App) saveLife(m *service.Meter) {
	a.tellOnce(&a.unsaved, m.Save(), "the service book could not be saved", "the service book is saved again")
}
