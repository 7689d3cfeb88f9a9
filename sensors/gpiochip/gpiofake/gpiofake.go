// Package gpiofake is a GPIO chip in memory, for tests of the drivers. It owns
// lines by name, the events that a test makes on them, losses of events as the
// kernel has them, the unplugging of the whole chip, and a log of every level
// that an output ever had, the one in its request first. It refuses to be
// kinder than the kernel: a line can be held once, a full buffer drops its
// oldest event, and a level that was not requested is never shown. It does no
// debouncing; what was asked for can be looked up.
package gpiofake

import (
	"errors"
	"fmt"
	"sync"
	"time"

	"headroom/sensors/gpiochip"
)

// ErrGone is what every line answers while the chip is unplugged.
var ErrGone = errors.New("no such device")

// Write is one level that an output was given.
type Write struct {
	At     time.Duration
	Active bool
}

// Board is a chip. Its zero value is not usable; see New. All methods may be
// called from any goroutine.
type Board struct {
	mu    sync.Mutex
	start time.Time
	gone  bool
	stall time.Duration
	lines map[string]*line
}

type line struct {
	board   *Board
	held    bool
	high    bool // the electrical level of an input
	request gpiochip.InputRequest
	seq     uint32
	queue   []gpiochip.Event
	wake    chan struct{}
	writes  []Write
	closed  bool
}

// New makes a chip whose clock starts now.
func New() *Board { return &Board{start: time.Now(), lines: map[string]*line{}} }

var _ gpiochip.Requester = (*Board)(nil)

func (b *Board) line(name string) *line {
	l := b.lines[name]
	if l == nil {
		l = &line{board: b, wake: make(chan struct{}, 1)}
		b.lines[name] = l
	}
	return l
}

func (b *Board) hold(name string) (*line, error) {
	l := b.line(name)
	switch {
	case b.gone:
		return nil, fmt.Errorf("cannot request %s: %w", name, ErrGone)
	case l.held:
		return nil, fmt.Errorf("cannot request %s: the line is held by another", name)
	}
	l.held, l.closed, l.queue, l.seq = true, false, nil, 0
	return l, nil
}

// Input implements gpiochip.Requester.
func (b *Board) Input(r gpiochip.InputRequest) (gpiochip.Input, error) {
	if err := r.Check(); err != nil {
		return nil, err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	l, err := b.hold(r.Line.String())
	if err != nil {
		return nil, err
	}
	l.request = r
	if r.Buffer == 0 {
		l.request.Buffer = 16
	}
	return input{l}, nil
}

// Output implements gpiochip.Requester.
func (b *Board) Output(r gpiochip.OutputRequest) (gpiochip.Output, error) {
	if err := r.Check(); err != nil {
		return nil, err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	l, err := b.hold(r.Line.String())
	if err != nil {
		return nil, err
	}
	l.writes = append(l.writes, Write{time.Since(b.start), r.Initial})
	return output{l}, nil
}

// Set gives an input line an electrical level, and an event if it was asked
// for.
func (b *Board) Set(name string, high bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	l := b.line(name)
	if l.high == high {
		return
	}
	l.high = high
	rising := high != l.request.ActiveLow
	want := l.request.Edges
	if l.held && (want == gpiochip.BothEdges || want == gpiochip.Rising && rising || want == gpiochip.Falling && !rising) {
		l.event(gpiochip.Event{At: time.Since(b.start), Rising: rising})
	}
}

// Pulse gives a line one high and low.
func (b *Board) Pulse(name string) { b.Set(name, true); b.Set(name, false) }

// Lose makes n events of a line vanish, as after a reader that came too late.
func (b *Board) Lose(name string, n uint32) {
	b.mu.Lock()
	b.line(name).seq += n
	b.mu.Unlock()
}

func (l *line) event(e gpiochip.Event) {
	l.seq++
	e.Seq, e.LineSeq = l.seq, l.seq
	if len(l.queue) == l.request.Buffer {
		l.queue = l.queue[1:]
	}
	l.queue = append(l.queue, e)
	l.poke()
}

func (l *line) poke() {
	select {
	case l.wake <- struct{}{}:
	default:
	}
}

// Unplug takes the chip away (true) or brings it back (false). Lines that were
// held are lost.
func (b *Board) Unplug(gone bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.gone = gone
	for _, l := range b.lines {
		l.held = false
		l.poke()
	}
}

// Stall makes every Set of an output hang that long, as on a hung expander.
func (b *Board) Stall(d time.Duration) {
	b.mu.Lock()
	b.stall = d
	b.mu.Unlock()
}

// Writes returns every level an output had, its initial one first.
func (b *Board) Writes(name string) []Write {
	b.mu.Lock()
	defer b.mu.Unlock()
	return append([]Write(nil), b.line(name).writes...)
}

// Held reports whether somebody holds the line.
func (b *Board) Held(name string) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.line(name).held
}

// Request returns what an input line was requested with.
func (b *Board) Request(name string) gpiochip.InputRequest {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.line(name).request
}

type input struct{ l *line }

func (in input) Read(buf []gpiochip.Event, timeout time.Duration) (int, error) {
	timer := time.NewTimer(timeout)
	defer timer.Stop()
	for {
		n, err := in.take(buf)
		if n > 0 || err != nil {
			return n, err
		}
		select {
		case <-in.l.wake:
		case <-timer.C:
			return in.take(buf)
		}
	}
}

func (in input) take(buf []gpiochip.Event) (int, error) {
	in.l.board.mu.Lock()
	defer in.l.board.mu.Unlock()
	if err := in.l.usable(); err != nil {
		return 0, err
	}
	n := copy(buf, in.l.queue)
	in.l.queue = in.l.queue[n:]
	return n, nil
}

func (l *line) usable() error {
	if l.closed || !l.held {
		return ErrGone
	}
	return nil
}

func (in input) Value() (bool, error) {
	in.l.board.mu.Lock()
	defer in.l.board.mu.Unlock()
	return in.l.high != in.l.request.ActiveLow, in.l.usable()
}

func (in input) Now() time.Duration { return time.Since(in.l.board.start) }

func (in input) Close() error { return in.l.close() }

func (l *line) close() error {
	l.board.mu.Lock()
	defer l.board.mu.Unlock()
	l.held, l.closed = false, true
	l.poke()
	return nil
}

type output struct{ l *line }

func (o output) Set(active bool) error {
	b := o.l.board
	b.mu.Lock()
	stall := b.stall
	b.mu.Unlock()
	time.Sleep(stall)
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := o.l.usable(); err != nil {
		return err
	}
	o.l.writes = append(o.l.writes, Write{time.Since(b.start), active})
	return nil
}

func (o output) Alive() error {
	o.l.board.mu.Lock()
	defer o.l.board.mu.Unlock()
	return o.l.usable()
}

func (o output) Close() error { return o.l.close() }
