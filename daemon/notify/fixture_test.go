package notify

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/units"
)

var (
	inletWarn = engine.WarnAlarm(engine.InletLow)
	inletAct  = engine.ActAlarm(engine.InletLow)
	hotWarn   = engine.WarnAlarm(engine.WaterHot)
	flowLost  = engine.SensorAlarm(frame.Flow)
)

// script is a Source whose events a test writes. Its monotonic time runs with
// the test's clock, from 100 s on.
type script struct {
	mu     sync.Mutex
	start  time.Time
	wall   time.Duration // what the wall clock is off by
	latest snapshot.Snapshot
	events []snapshot.Event
	lastID uint64
	wake   chan struct{}
}

var _ Source = (*script)(nil)

func newScript() *script { return &script{start: time.Now(), wake: make(chan struct{})} }

func (s *script) Changed() <-chan struct{} {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.wake
}

func (s *script) Events(after uint64) []snapshot.Event {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i, e := range s.events {
		if e.ID > after {
			return append([]snapshot.Event(nil), s.events[i:]...)
		}
	}
	return nil
}

func (s *script) Latest() *snapshot.Snapshot {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.latest
	return &c
}

// change makes an alarm go up or back. Its condition began two seconds before.
func (s *script) change(a engine.AlarmID, level engine.Level, raised bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.lastID++
	mono := 100*time.Second + time.Since(s.start)
	tr := engine.Transition{T: mono, Alarm: a, Raised: raised, Level: level, Onset: mono - 2*time.Second, Machine: machine.Running}
	if _, ok := a.Rule(); ok {
		tr.Value, tr.Limit = 34e3, 50e3
	} else {
		tr.Status = frame.Stale
	}
	s.latest.Mono, s.latest.Wall = mono, time.Now().Add(s.wall).Round(0)
	s.latest.Verdicts.Machine = machine.Running
	s.latest.Verdicts.Alarms[a] = engine.Standing{Active: raised, Level: level, Since: mono, Onset: tr.Onset}
	s.events = append(s.events, snapshot.Event{ID: s.lastID, Wall: s.latest.Wall, Transition: tr})
	if over := len(s.events) - 500; over > 0 { // as many as the store keeps
		s.events = s.events[over:]
	}
	close(s.wake)
	s.wake = make(chan struct{})
}

func (s *script) raise(a engine.AlarmID, level engine.Level) { s.change(a, level, true) }
func (s *script) back(a engine.AlarmID, level engine.Level)  { s.change(a, level, false) }

// fakeSink is a sink that does what a test says and notes what it took.
type fakeSink struct {
	mu     sync.Mutex
	traits Traits
	send   func(ctx context.Context, batch []Notification) error
	took   []Notification
	tries  []time.Time
	closed bool
}

func (f *fakeSink) Kind() string   { return "fake" }
func (f *fakeSink) Traits() Traits { return f.traits }

func (f *fakeSink) Send(ctx context.Context, batch []Notification) error {
	f.mu.Lock()
	f.tries = append(f.tries, time.Now())
	send := f.send
	f.mu.Unlock()
	if send != nil {
		if err := send(ctx, batch); err != nil {
			return err
		}
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.took = append(f.took, batch...)
	return nil
}

func (f *fakeSink) Close(context.Context) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.closed = true
	return nil
}

func (f *fakeSink) behave(send func(context.Context, []Notification) error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.send = send
}

// got returns what was taken, in short words.
func (f *fakeSink) got() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	var all []string
	for _, n := range f.took {
		all = append(all, n.State.String()+" "+n.Alarm.String())
	}
	return all
}

func (f *fakeSink) attempts() []time.Time {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]time.Time(nil), f.tries...)
}

var errDown = errors.New("network is down")

func down(context.Context, []Notification) error { return errDown }

// hang waits as long as it may.
func hang(ctx context.Context, _ []Notification) error {
	<-ctx.Done()
	return ctx.Err()
}

func options(targets ...Target) Options {
	return Options{
		Machine: "Jetter 1", Boot: 7, Units: units.US, Dashboard: "http://jetter.local:8080/",
		Clock: func() Clock { return ClockSynced }, Log: slog.New(slog.DiscardHandler), Targets: targets,
	}
}

// launch runs a notifier and returns it with a function that stops it and
// waits for its end.
func launch(t *testing.T, src Source, opt Options) (n *Notifier, stop func()) {
	t.Helper()
	n, err := New(src, opt)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		n.Run(ctx)
	}()
	stop = func() {
		cancel()
		<-ended
	}
	t.Cleanup(stop) // so that a test that fails ends too
	return n, stop
}

// memNet is a network in memory, so that time in a synctest bubble stands
// still while it carries bytes.
type memNet struct {
	mu    sync.Mutex
	cut   bool
	conns chan net.Conn
	open  []net.Conn
	done  chan struct{}
}

func newMemNet() *memNet {
	return &memNet{conns: make(chan net.Conn), done: make(chan struct{})}
}

// Dial connects to whoever accepts.
func (m *memNet) Dial(ctx context.Context, _, _ string) (net.Conn, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.cut {
		return nil, errDown
	}
	near, far := net.Pipe()
	select {
	case m.conns <- far:
		m.open = append(m.open, near, far)
		return near, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-m.done:
		return nil, errDown
	}
}

// setCut cuts all connections and lets none through, or mends the network.
func (m *memNet) setCut(cut bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.cut = cut
	if !cut {
		return
	}
	for _, c := range m.open {
		_ = c.Close()
	}
	m.open = nil
}

func (m *memNet) Accept() (net.Conn, error) {
	select {
	case c := <-m.conns:
		return c, nil
	case <-m.done:
		return nil, net.ErrClosed
	}
}

func (m *memNet) Close() error {
	select {
	case <-m.done:
	default:
		close(m.done)
	}
	return nil
}

func (m *memNet) Addr() net.Addr { return &net.TCPAddr{IP: net.IPv4(192, 0, 2, 1), Port: 80} }

// serve runs an HTTP server on a network in memory until the test ends.
func serve(t *testing.T, h http.HandlerFunc) *memNet {
	t.Helper()
	m := newMemNet()
	s := &httptest.Server{Listener: m, Config: &http.Server{Handler: h}}
	s.Start()
	t.Cleanup(s.Close)
	return m
}

// sampleFeed is the feed of an invented machine.
func sampleFeed() *feed {
	opt := options()
	return &feed{opt: &opt, run: "7"}
}

// sample is an invented notification.
func sample() Notification {
	n := sampleFeed().blank(inletAct)
	n.Seq, n.State, n.Level = 12, Raised, engine.Act
	n.Value = Amount{SI: 34e3, Quantity: units.Pressure, Known: true}
	n.Limit = Amount{SI: 50e3, Quantity: units.Pressure, Known: true}
	n.LooksLike, n.Do = "Looks like too little water from the supply.", "Open the tap fully."
	n.MachineState, n.FirstOut = machine.Running, true
	n.OnsetMono, n.Mono = 724*time.Second, 726*time.Second
	n.Wall = time.Date(2026, time.March, 2, 12, 0, 2, 0, time.UTC)
	n.OnsetWall = n.Wall.Add(-2 * time.Second)
	n.Clock = ClockSynced
	return n
}
