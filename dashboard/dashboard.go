// Package dashboard serves the machine's page to a phone in the rain or a
// laptop on the bench: is it all right, which limit is nearest, how long have I
// got, what do I do. It owns the page, its live stream and the JSON that
// programs read; all of it comes from the snapshot store, so that a page view
// never touches a sensor, and a slow reader is dropped and never waited for.
// What a person says of an alarm ("I know", "put it aside for an hour") goes
// through one function that its owner supplies, and so does what else a person
// does: calibrations, the checklist, a try of an output while the machine stands.
// It refuses to change what is judged: no limit and no rule can be set from here,
// and nothing here starts the machine. The pages are complete without JavaScript and load nothing from anywhere else.
package dashboard

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"log/slog"
	"net/http"
	"net/netip"
	"time"

	"headroom/daemon/access"
	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// Options is what the dashboard needs. Store is required, the rest may be zero.
type Options struct {
	// Store is read for everything that is shown.
	Store *snapshot.Store
	// Source says in a few words where readings come from that are not this
	// machine's own, such as a simulator; it stands on the pages. Empty for
	// real ones.
	Source string
	// MachineName stands at the top of the page.
	MachineName string
	// PINCommand is what a person types on the device to draw its PIN, with the
	// folder in use; empty for one that names none.
	PINCommand string
	// Units for people who have not chosen.
	Units units.System
	// Version of the program, for the footer.
	Version string
	// Limits in force, with their sources; nil when there are none to show.
	Limits *[engine.NumRules]engine.Limit
	// Handbook is served at /handbook; nil for none.
	Handbook *Handbook
	// Acts takes what a person does to an alarm to the engine and returns what
	// became of it, ErrNotNow where the act means nothing in the alarm's
	// present phase. It is called by many at the same time. Nil makes the page
	// read only.
	Acts func(ctx context.Context, a ActRequest) (engine.Did, error)
	// Calibrator takes people through calibrations; nil for none.
	Calibrator Calibrator
	// Raw returns the electrical signal behind a channel's last reading in
	// words, empty where there is none to show; nil for none at all.
	Raw func(frame.Channel) string
	// Checklist keeps the list before the start; nil for none.
	Checklist Checklist
	// Adviser answers questions before the start, the supply test among them;
	// nil for none.
	Adviser Adviser
	// Outputs are tried from the page of outputs; nil for none.
	Outputs OutputTester
	// Note puts what a person did into the record of the run: what in a word,
	// text in full, who as the person gave the name. It returns when that is
	// safe. Nil where no record is kept.
	Note func(ctx context.Context, what, text, who string) error
	// Record gives the record for the pages of runs; it returns nil while that
	// can't be read. A nil function leaves those pages out.
	Record func() Recorded
	// Bench leads through tests of pumps; nil for none.
	Bench Bench
	// Physics is the page on what is computed and what it was compared with,
	// Wiring holds README.md and its drawings; nil for none.
	Physics func() string
	Wiring  fs.FS
	// Gate knows who gave the device's PIN, which every change needs. Nil lets
	// everybody change everything: for tests, and where something else guards.
	Gate *access.Gate
	// ReadNeedsPIN asks for the PIN before anything is shown, too.
	ReadNeedsPIN bool
	// Logger takes failures to write a page; nil is slog.Default.
	Logger *slog.Logger
	// AllowedHosts are further names that the page may be asked for by, besides
	// IP addresses, localhost and names ending in .local.
	AllowedHosts []string
	// Metrics is served at /metrics, behind the same check of the host; nil
	// for none.
	Metrics http.Handler
	// StreamEvery is the shortest pause between two ticks of the live stream;
	// 0 is 250 ms.
	StreamEvery time.Duration
	// Now is the clock that Snapshot.Wall was read from; nil is time.Now. A
	// replay of an old recording must give its own, or all of it reads as old.
	Now func() time.Time
}

const (
	defaultStreamEvery = 250 * time.Millisecond
	// oldAfter is when a snapshot counts as old: twice the slowest tick, and
	// what a person still takes for now.
	oldAfter = 2 * time.Second
	// chartEvery is how often the strip charts are drawn anew.
	chartEvery = 5 * time.Second
	// beatEvery tells an idle stream from a dead one; the page gives up on the
	// server after twice that.
	beatEvery = time.Second
	// writeWithin is how long a reader may take for one message.
	writeWithin = 3 * time.Second
	// maxStreams keeps a forgotten script from eating the board's memory.
	maxStreams = 32
)

// feed is what the dashboard reads; *snapshot.Store is the one in use.
type feed interface {
	Start() string
	Latest() *snapshot.Snapshot
	Changed() <-chan struct{}
	Points(window time.Duration) []snapshot.Point
	PointsAfter(seq uint64) []snapshot.Point
	Events(after uint64) []snapshot.Event
	Acts(after uint64) []snapshot.ActEvent
}

type server struct {
	opt  Options
	feed feed
	// build names this program to pages that an older one has written.
	build   string
	log     *slog.Logger
	pages   *template.Template
	hosts   map[string]bool
	streams chan struct{}
	held    holders
	charts  chartCache
	looks   *looks
	// verdicts of bench tests that have ended.
	verdicts benchVerdicts
}

// New makes the handler of every page and path. Streams end with their
// request's context, so a server that wants to shut down in time gives its
// connections a BaseContext that it cancels. It panics without a store, which
// is a mistake of the program and not of a person.
func New(opt Options) http.Handler {
	if opt.Store == nil {
		panic(errors.New("dashboard.New needs a snapshot store"))
	}
	return newServer(opt, opt.Store).handler()
}

func newServer(opt Options, f feed) *server {
	if opt.Logger == nil {
		opt.Logger = slog.Default()
	}
	if opt.StreamEvery <= 0 {
		opt.StreamEvery = defaultStreamEvery
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.PINCommand == "" {
		opt.PINCommand = "headroom pin new"
	}
	if opt.MachineName == "" {
		opt.MachineName = "Jetter"
	}
	return &server{
		opt: opt, feed: f, build: buildOf(opt.Version), log: opt.Logger, pages: parsePages(),
		hosts: hostSet(opt.AllowedHosts), streams: make(chan struct{}, maxStreams), held: holders{of: map[netip.Addr]int{}}, looks: newLooks(),
	}
}

func (s *server) handler() http.Handler {
	mux := http.NewServeMux()
	s.dayRoutes(mux)
	s.runRoutes(mux)
	s.benchRoutes(mux)
	mux.HandleFunc("GET /{$}", s.livePage)
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) { s.nowhere(mux, w, r) })
	mux.HandleFunc("POST /{$}", s.chooseUnits)
	mux.HandleFunc("GET /cautions", s.cautionsPage)
	mux.HandleFunc("GET /limits", s.limitsPage)
	mux.HandleFunc("GET /handbook", s.handbookPage)
	mux.HandleFunc("GET "+standingPath, s.standingLine)
	mux.HandleFunc("POST /who", s.chooseName)
	mux.HandleFunc("GET /alarms/{name}", s.alarmPage)
	mux.HandleFunc("POST /alarms/{name}/{act}", s.actForm)
	mux.HandleFunc("POST /api/v1/alarms/{name}/{act}", s.actJSON)
	mux.HandleFunc("GET /api/v1/status", s.statusJSON)
	mux.HandleFunc("GET /api/v1/events", s.eventsJSON)
	mux.HandleFunc("GET /api/v1/acts", s.actsJSON)
	mux.HandleFunc("GET /api/v1/stream", s.stream)
	mux.HandleFunc("GET /api/v1/trend", s.trendJSON)
	mux.HandleFunc("GET /api/v1/openapi.json", s.openAPIJSON)
	mux.HandleFunc("GET /-/healthy", s.healthy)
	mux.HandleFunc("GET /-/ready", s.ready)
	if s.opt.Metrics != nil {
		mux.Handle("GET /metrics", s.opt.Metrics)
	}
	mux.Handle("GET /static/", staticFiles())
	if s.opt.Gate != nil {
		mux.HandleFunc("GET "+accessPath, s.accessPage)
		mux.HandleFunc("POST /access/enter", s.enterPIN)
		mux.HandleFunc("POST /access/leave", s.leavePIN)
		mux.HandleFunc("POST /api/v1/session", s.enterJSON)
	}
	return s.guard(http.NewCrossOriginProtection().Handler(s.gated(s.readable(mux))))
}

// dayRoutes are the pages around a day's work: before the start, the setup and
// the handbook. What the program doesn't have has no page.
func (s *server) dayRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET "+placeStart, s.startPage)
	if s.opt.Checklist != nil {
		mux.HandleFunc("POST /start/checklist", s.goRound)
		mux.HandleFunc("GET /start/list", s.listPage)
		mux.HandleFunc("POST /start/list", s.setList)
	}
	if s.opt.Adviser != nil {
		mux.HandleFunc("GET "+supplyPath, s.supplyPage)
		mux.HandleFunc("POST /start/supply/keep", s.keepSupply)
		mux.HandleFunc("GET /start/advice/{topic}", s.advicePage)
	}
	mux.HandleFunc("GET "+placeSetup, s.setupPage)
	mux.HandleFunc("GET /calibration/{channel}", s.calibratePage)
	mux.HandleFunc("POST /calibration/{channel}/{step}", s.calibrateForm)
	mux.HandleFunc("GET "+outputsPath, s.outputsPage)
	if s.opt.Outputs != nil {
		mux.HandleFunc("POST "+outputsPath+"/{name}/{do}", s.outputForm)
	}
	mux.HandleFunc("GET /handbook/{manual}", s.manualPage)
	mux.HandleFunc("GET /handbook/wiring/{picture}", s.wiringPicture)
}

// healthy answers as long as the program can: it says nothing of sensors.
func (s *server) healthy(w http.ResponseWriter, _ *http.Request) {
	fmt.Fprintln(w, "healthy")
}

// ready answers 200 once the machine is being looked at, and 503 when it is
// not, or not any more.
func (s *server) ready(w http.ResponseWriter, _ *http.Request) {
	snap := s.feed.Latest()
	switch {
	case snap == nil:
		http.Error(w, "not ready: no tick yet", http.StatusServiceUnavailable)
	case s.age(snap) > oldAfter:
		http.Error(w, "not ready: the last tick is too old", http.StatusServiceUnavailable)
	default:
		fmt.Fprintln(w, "ready")
	}
}

// age returns how old a snapshot is, never negative: a clock that was set back
// is no reason to call a fresh reading old.
func (s *server) age(snap *snapshot.Snapshot) time.Duration {
	return max(s.opt.Now().Sub(snap.Wall), 0)
}
