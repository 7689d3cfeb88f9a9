// Package app is the program as a value: New takes everything from its
// options, Run works until its context ends, Close gives back what New took.
// Tests build it with a temporary folder and port 0, and the command line does
// no more. It owns the tick and the wiring between drivers, engine, record and
// web; it refuses to hold any physics, any page and any file format itself.
package app

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/net/netutil"

	"headroom/daemon/access"
	"headroom/daemon/config"
	"headroom/daemon/notify"
	"headroom/daemon/remote"
	"headroom/daemon/replay"
	"headroom/daemon/sdnotify"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors"
)

// Options of the program. Config and Drivers are required.
type Options struct {
	Config *config.Config
	// ConfigText is the config as it was written, kept with the record.
	ConfigText []byte
	// ConfigFile is where it was read from, which takes the baseline of a bench
	// test on a person's word; empty where there is no file.
	ConfigFile string
	// Drivers feed the channels.
	Drivers []sensors.Driver
	// Outputs are driven by the tick; nil for none.
	Outputs Outputs
	// Calibrator takes people through calibrations on the dashboard; nil for
	// none.
	Calibrator *Calibrator
	// Raw returns the electrical signal behind a channel's last reading in
	// words; nil where no part shows one.
	Raw func(frame.Channel) string
	// Manager is the service manager; nil for none.
	Manager *sdnotify.Notifier
	// Source says in words where readings come from that are not this
	// machine's own; every page shows it. Empty for real ones.
	Source string
	// Readings is the same for the record: what is not of real sensors counts
	// for no machine's life. Empty for the simulator where Source has words,
	// and for sensors where it hasn't.
	Readings store.Readings
	// Folder of the record; empty keeps none.
	Folder string
	// Listen is the dashboard's host and port; empty serves none.
	Listen string
	// Gate knows who gave the device's PIN, which every change on the dashboard
	// needs; nil lets everybody change everything, for tests.
	Gate *access.Gate
	// PINCommand draws the PIN on the device, as a page tells it; may be empty.
	PINCommand string
	// Certificate encrypts the dashboard; nil serves it plain.
	Certificate *tls.Certificate
	// Tick is the time between two frames; 0 is DefaultTick.
	Tick time.Duration
	// Speed is how much faster than life the program's own clock runs, for
	// simulated or recorded readings; 0 is 1. Ticks come as much faster, so
	// that the engine sees the same frames at any speed.
	Speed float64
	// Version of the program.
	Version string
	// Wall is the wall clock and WallSynced whether something keeps it right;
	// nil asks the computer. Nothing is judged or ordered by either.
	Wall       func() time.Time
	WallSynced func() bool
	// Log takes one line for each change of state; nil is slog.Default.
	Log *slog.Logger
}

// DefaultTick is ten frames a second: fast enough for a pump that starves
// within a second, slow enough for a small board.
const DefaultTick = 100 * time.Millisecond

// MaxSpeed is as fast as a small board can tick.
const MaxSpeed = 50.0

// App is one running program.
type App struct {
	opt    Options
	log    *slog.Logger
	engine *engine.Engine
	state  engine.State
	board  *sensors.Board
	sup    *sensors.Supervisor
	store  *snapshot.Store
	keeper *keeper
	// bench leads through tests of pumps; nil where no record is kept.
	bench *Bench
	// lock is held on the record's folder.
	lock *os.File
	// notifier tells others of alarms; nil without a target.
	notifier *notify.Notifier
	// remote sends the record to a store of many machines; nil without one.
	remote *remote.Sender
	asked  chan asked
	// restored is the text of the alarms that this run began with; nil for
	// none.
	restored []byte
	// unkept and unsaved are why alarms and service book couldn't be written
	// last, each told once; only the goroutine that writes uses each.
	unkept, unsaved string
	// lastKept is what was handed over last; only the tick uses it.
	lastKept snapshot.Kept
	// ticked is the time of the last step.
	ticked atomic.Int64
	// system is what stands about the program itself.
	system atomic.Pointer[systemState]
	listen net.Listener
	start  time.Time
	seq    uint64
	late   uint64
	told   told
}

// New prepares the program: it checks the config, opens the record and the
// port. Nothing runs yet. The error names what could not be had.
func New(opt Options) (*App, error) {
	if opt.Config == nil {
		return nil, errors.New("cannot start without a config")
	}
	if opt.Log == nil {
		opt.Log = slog.Default()
	}
	if opt.Tick <= 0 {
		opt.Tick = DefaultTick
	}
	if opt.Speed == 0 {
		opt.Speed = 1
	}
	if opt.Readings == store.NotTold {
		opt.Readings = store.FromSensors
		if opt.Source != "" {
			opt.Readings = store.FromSimulator
		}
	}
	if !(opt.Speed > 0 && opt.Speed <= MaxSpeed) {
		return nil, fmt.Errorf("cannot run at speed %g: it must be above 0 and at most %g", opt.Speed, MaxSpeed)
	}
	cfg, ages := fitted(opt.Config)
	e, err := engine.New(cfg)
	if err != nil {
		return nil, fmt.Errorf("cannot use the config: %w", err)
	}
	a := &App{
		opt: opt, log: opt.Log, engine: e, store: snapshot.NewStore(),
		board: sensors.NewBoard(ages), start: time.Now(),
		asked: make(chan asked),
	}
	a.sup = &sensors.Supervisor{Board: a.board, Clock: a.clock, Log: opt.Log}
	if err := a.open(); err != nil {
		return nil, errors.Join(err, a.Close())
	}
	return a, nil
}

// fitted are the engine's config and the board's ages for the channels that
// both know: then every frame shows which channels the engine was made for, and
// a replay makes the same one.
func fitted(c *config.Config) (engine.Config, [frame.NumChannels]time.Duration) {
	ages := c.Stale
	var channels []frame.Channel
	for ch := range ages {
		if !c.Engine.Signals[ch].Fitted || ages[ch] <= 0 {
			ages[ch] = 0
			continue
		}
		channels = append(channels, frame.Channel(ch))
	}
	return replay.FitTo(c.Engine, channels), ages
}

func (a *App) open() error {
	if a.opt.Listen != "" {
		l, err := net.Listen("tcp", a.opt.Listen)
		if err != nil {
			return fmt.Errorf("cannot serve the dashboard at %s: %w; choose another address with -listen or server.listen", a.opt.Listen, err)
		}
		a.listen = netutil.LimitListener(newFair(l), maxConnections)
		if c := a.opt.Certificate; c != nil {
			a.listen = tls.NewListener(a.listen, &tls.Config{Certificates: []tls.Certificate{*c}, MinVersion: tls.VersionTLS12})
		}
	}
	var err error
	if a.notifier, err = a.newNotifier(); err != nil {
		return fmt.Errorf("cannot notify others: %w", err)
	}
	if a.opt.Folder != "" {
		if err := a.lockFolder(); err != nil {
			return err
		}
		a.restoreAlarms()
		a.tellOld()
		a.openRecord()
		a.noteOutputs()
	}
	a.bench = a.newBench()
	return a.openRemote()
}

// wall is what the wall clock says. At another speed than life's it is the
// program's own time, counted on from its start: one clock for pages and record,
// or a simulated hour would lie within a minute.
func (a *App) wall() time.Time {
	if a.opt.Speed != 1 {
		return a.start.Add(a.clock()).Round(0)
	}
	if a.opt.Wall != nil {
		return a.opt.Wall()
	}
	return time.Now()
}

// clockSynced reports whether something keeps the wall clock right.
func (a *App) clockSynced() bool {
	if a.opt.WallSynced != nil {
		return a.opt.WallSynced()
	}
	return kernelSynced()
}

// clock is the monotonic time since the program's start, at the program's
// speed. time.Since reads the monotonic clock, so that a jump of the wall clock
// is not seen here.
func (a *App) clock() time.Duration {
	return time.Duration(float64(time.Since(a.start)) * a.opt.Speed)
}

// Store gives the snapshots, for tests.
func (a *App) Store() *snapshot.Store { return a.store }

// URL is where the dashboard is served; empty when it isn't.
func (a *App) URL() string {
	if a.listen == nil {
		return ""
	}
	scheme := "http://"
	if a.opt.Certificate != nil {
		scheme = "https://"
	}
	return scheme + a.hosts()[0] + "/"
}

// URLs are all addresses at which the dashboard is served, the one for other
// machines first: an address that stands for every one is told as the board's
// own.
func (a *App) URLs() (out []string) {
	if a.listen == nil {
		return nil
	}
	scheme, _, _ := strings.Cut(a.URL(), "://")
	for _, host := range a.hosts() {
		out = append(out, scheme+"://"+host+"/")
	}
	return out
}

func (a *App) hosts() []string {
	tcp, ok := a.listen.Addr().(*net.TCPAddr)
	if !ok || !tcp.IP.IsUnspecified() {
		return []string{a.listen.Addr().String()}
	}
	all, _ := net.InterfaceAddrs() // without them the loopback is left
	return hostsOf(all, tcp.Port)
}

// hostsOf puts addresses that others reach before the loopback's, and IPv4,
// which is typed into a phone with less trouble, before IPv6. Addresses that
// need the name of an interface are left out.
func hostsOf(all []net.Addr, port int) []string {
	var four, six []string
	for _, at := range all {
		n, ok := at.(*net.IPNet)
		if !ok || !n.IP.IsGlobalUnicast() {
			continue
		}
		host := net.JoinHostPort(n.IP.String(), strconv.Itoa(port))
		if n.IP.To4() != nil {
			four = append(four, host)
		} else {
			six = append(six, host)
		}
	}
	return slices.Concat(four, six, []string{net.JoinHostPort("127.0.0.1", strconv.Itoa(port))})
}

// Run works until ctx ends and then stops in order: the outputs at once, so
// that they are safe before anything else, the web, so that nobody reads what
// no longer moves, then the drivers and the tick, and last the record, so that
// the last frame is in it.
func (a *App) Run(ctx context.Context) error {
	work, stopWork := context.WithCancel(context.WithoutCancel(ctx))
	defer stopWork()
	stopOutputs := a.startOutputs(ctx)
	drivers := a.startDrivers(work)
	var tick sync.WaitGroup
	tick.Go(func() { a.tick(work) })
	tick.Go(func() { a.countLife(work) })
	tick.Go(func() { a.writeActs(work) })
	tick.Go(func() { a.watchSystem(work) })
	tick.Go(func() { a.watchClock(work) })
	tick.Go(func() { a.tellOthers(work) })
	tick.Go(func() { a.sendRecord(work) })
	tick.Go(func() { a.bench.run(work) })
	err := a.serve(ctx)
	stopOutputs()
	_ = a.opt.Manager.Stopping() // nothing else can be done about it now
	stopWork()
	tick.Wait()
	a.awaitDrivers(drivers)
	a.keepLast()
	return errors.Join(err, a.closeRecord())
}

// driversWithin is how long the drivers may take to end. One that hangs in a
// system call never does, and must not hold up the end of the record.
const driversWithin = 2 * time.Second

// startDrivers runs each driver on its own; the channels close as they end.
func (a *App) startDrivers(ctx context.Context) []chan struct{} {
	ended := make([]chan struct{}, len(a.opt.Drivers))
	for i, d := range a.opt.Drivers {
		ended[i] = make(chan struct{})
		go func() {
			defer close(ended[i])
			a.sup.Run(ctx, d)
		}()
	}
	return ended
}

func (a *App) awaitDrivers(ended []chan struct{}) {
	late := time.NewTimer(driversWithin)
	defer late.Stop()
	for i, e := range ended {
		select {
		case <-e:
		case <-late.C:
			a.log.Warn("driver hangs and is left behind", "driver", a.opt.Drivers[i].Name())
			return
		}
	}
}

// Close gives back the port and the record. It may be called after Run and
// more than once.
func (a *App) Close() error {
	var err error
	if a.listen != nil {
		if e := a.listen.Close(); e != nil && !errors.Is(e, net.ErrClosed) {
			err = e
		}
	}
	err = errors.Join(err, a.closeRecord())
	if a.lock != nil {
		err = errors.Join(err, a.lock.Close())
		a.lock = nil
	}
	return err
}
