package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"headroom/daemon/checklist"
	"headroom/daemon/config"
	"headroom/daemon/handbook"
	"headroom/daemon/metrics"
	"headroom/dashboard"
	"headroom/deploy/wiring"
	"headroom/rules/engine"
	"headroom/rules/physics"
)

// The limits of the web server: a phone on a bad link may be slow, but nobody
// may hold a connection for nothing.
const (
	headerWithin   = 5 * time.Second
	readWithin     = 15 * time.Second
	idleWithin     = 2 * time.Minute
	maxHeaderBytes = 16 << 10
	shutdownWithin = 3 * time.Second
	// maxConnections bounds the memory that readers take; a phone has six at most.
	maxConnections = 128
)

// handler is every path that is served.
func (a *App) handler() http.Handler {
	opt := dashboard.Options{
		Store: a.store, MachineName: a.opt.Config.Name, Units: a.opt.Config.Units, Version: a.opt.Version,
		Limits: &a.opt.Config.Engine.Rules, Logger: a.log, Metrics: metrics.Handler(a.store, a.opt.Version, string(a.opt.Readings), a.remoteMetrics),
		Source: a.opt.Source, Acts: a.act, Handbook: handbook.Build(a.opt.Config),
		PINCommand: a.opt.PINCommand,
		Gate:       a.opt.Gate, ReadNeedsPIN: a.opt.Config.Server.Reading == config.ReadPIN, AllowedHosts: a.opt.Config.Server.Hosts,
		Raw: a.opt.Raw, Adviser: adviser{a.opt.Config}, Physics: sync.OnceValue(physics.Document), Wiring: wiring.Guide,
	}
	if a.opt.Speed != 1 {
		opt.Now = a.wall
	}
	// A nil pointer in an interface is no nil interface.
	if a.opt.Calibrator != nil {
		opt.Calibrator = a.opt.Calibrator
	}
	if t, ok := a.opt.Outputs.(trier); ok {
		opt.Outputs = trial{t}
	}
	if a.bench != nil {
		opt.Bench = a.bench
	}
	if a.opt.Folder != "" {
		opt.Record = a.recorded
		opt.Checklist, opt.Note = checklist.NewKeeper(a.opt.Folder, a.opt.Config.Drive == config.EngineDriven), a.Note
	}
	return dashboard.New(opt)
}

// recorded is the record as pages read it; a nil pointer is no record.
func (a *App) recorded() dashboard.Recorded {
	if r := a.Record(); r != nil {
		return r
	}
	return nil
}

// act takes a person's act from the page to the tick.
func (a *App) act(ctx context.Context, r dashboard.ActRequest) (engine.Did, error) {
	did, err := a.Do(ctx, r.Alarm, r.Act, r.Shelf, r.Who)
	if errors.Is(err, ErrNotNow) {
		err = dashboard.ErrNotNow
	}
	return did, err
}

// serve answers until ctx ends, and then gives open requests a moment. Without
// a port it only waits.
func (a *App) serve(ctx context.Context) error {
	if a.listen == nil {
		<-ctx.Done()
		return nil
	}
	// Live streams end with this context, or Shutdown would wait for them.
	base, stop := context.WithCancel(context.WithoutCancel(ctx))
	defer stop()
	srv := &http.Server{
		Handler: a.handler(), ReadHeaderTimeout: headerWithin, ReadTimeout: readWithin, IdleTimeout: idleWithin,
		MaxHeaderBytes: maxHeaderBytes, BaseContext: func(net.Listener) context.Context { return base },
		ErrorLog: slog.NewLogLogger(a.log.Handler(), slog.LevelDebug),
	}
	failed := make(chan error, 1)
	go func() { failed <- srv.Serve(a.listen) }()
	select {
	case err := <-failed:
		return fmt.Errorf("the web server stopped: %w", err)
	case <-ctx.Done():
	}
	stop()
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownWithin)
	defer cancel()
	if err := srv.Shutdown(end); err != nil {
		return errors.Join(fmt.Errorf("cannot end the web server in time: %w", err), srv.Close())
	}
	return nil
}
