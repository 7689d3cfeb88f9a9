package app

import (
	"context"
	"fmt"
	"time"

	"headroom/daemon/metrics"
	"headroom/daemon/remote"
)

// openRemote makes the sender of the record to a store of many machines; there
// is none without an address, without a record, or at another speed than
// life's, whose times are nobody's.
func (a *App) openRemote() (err error) {
	if a.opt.Config.Remote.URL == "" || a.keeper == nil || a.opt.Speed != 1 {
		return nil
	}
	opt := remote.FromConfig(a.opt.Config)
	opt.Record, opt.Clock, opt.Folder, opt.Log = a.remoteRecord, a.lastTick, a.opt.Folder, a.log
	if a.remote, err = remote.New(opt); err != nil {
		return fmt.Errorf("cannot send the record, see [remote] in the config: %w", err)
	}
	return nil
}

// remoteRecord is the record for the sender; a nil pointer in an interface is
// no nil interface.
func (a *App) remoteRecord() remote.Record {
	if s := a.Record(); s != nil {
		return s
	}
	return nil
}

// sendRecord sends until ctx ends.
func (a *App) sendRecord(ctx context.Context) {
	if a.remote != nil {
		a.remote.Run(ctx)
	}
}

// remoteMetrics is how the sender is doing, for metrics; ok is false without
// one.
func (a *App) remoteMetrics() (m metrics.Remote, ok bool) {
	if a.remote == nil {
		return m, false
	}
	s := a.remote.Stats()
	m = metrics.Remote{
		Sent: s.Sent, Refused: s.Refused, Known: s.Known, Minutes: s.Minutes, Bare: s.Bare, Failures: s.Failures,
		BytesOut: s.BytesOut, BytesIn: s.BytesIn, TodayBytes: s.Today, Failing: s.Failing != "", Holding: s.Holding,
	}
	if !s.Newest.IsZero() {
		m.Behind, m.HasBehind = max(a.wall().Sub(s.Newest), time.Duration(0)), true
	}
	return m, true
}
