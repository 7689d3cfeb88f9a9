package adc

import (
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"periph.io/x/conn/v3/i2c"
)

// errHung is a transfer that didn't come back in time. The bus is lost with
// it, not only the chip.
var errHung = errors.New("the bus hangs")

// transfer is one write with an answer of 0 or 2 bytes. Its bytes are its own,
// so that an abandoned one can't touch anything else.
type transfer struct {
	addr uint16
	w    [3]byte
	nw   int
	read bool
	r    [2]byte
	err  error
}

// line is the way to the bus: one goroutine that makes the transfers, so that
// a call that hangs in the kernel can't hang the driver. There is at most one
// transfer under way, over all runs of the driver: while an abandoned one is
// out, open refuses.
type line struct {
	bus     i2c.Bus
	timeout time.Duration
	out     atomic.Bool // a transfer is under way

	jobs  chan transfer
	done  chan transfer
	timer *time.Timer
}

// open starts the goroutine. close must follow.
func (l *line) open() error {
	if l.out.Load() {
		return fmt.Errorf("cannot use %s: a transfer that was given up still hasn't come back: check the wires for a short, power the sensors off and on", l.bus)
	}
	l.jobs, l.done = make(chan transfer), make(chan transfer, 1)
	l.timer = time.NewTimer(l.timeout)
	l.timer.Stop()
	go l.work(l.jobs, l.done)
	return nil
}

// work makes transfers until jobs is closed. done has room for one, so that an
// abandoned transfer can always end.
func (l *line) work(jobs <-chan transfer, done chan<- transfer) {
	var w [3]byte
	var r [2]byte
	for t := range jobs {
		w = t.w
		n := 0
		if t.read {
			n = len(r)
		}
		t.err = l.tx(t.addr, w[:t.nw], r[:n])
		t.r = r
		l.out.Store(false)
		done <- t
	}
}

// tx turns a panic below into an error: nobody above this goroutine could.
func (l *line) tx(addr uint16, w, r []byte) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the driver of %s broke: %v", l.bus, p)
		}
	}()
	return l.bus.Tx(addr, w, r)
}

func (l *line) close() {
	l.timer.Stop()
	close(l.jobs)
}

// do makes one transfer. It returns errHung, wrapped, after the time limit;
// then the line must be closed. It doesn't end early with a context, so that
// after Run has returned nobody uses the bus any more, unless it hangs.
func (l *line) do(t transfer) ([2]byte, error) {
	l.out.Store(true)
	l.jobs <- t // work is always ready here: the one before has come back
	l.timer.Reset(l.timeout)
	defer l.timer.Stop()
	select {
	case t = <-l.done:
		return t.r, t.err
	case <-l.timer.C:
		return t.r, fmt.Errorf("%w: no end of a transfer to %s on %s within %v: check the wires for a short", errHung, addrWords(t.addr), l.bus, l.timeout)
	}
}

func (l *line) write(addr, word uint16) error {
	_, err := l.do(transfer{addr: addr, w: [3]byte{regConfig, byte(word >> 8), byte(word)}, nw: 3})
	return err
}

func (l *line) read(addr uint16, reg byte) (uint16, error) {
	r, err := l.do(transfer{addr: addr, w: [3]byte{reg}, nw: 1, read: true})
	return uint16(r[0])<<8 | uint16(r[1]), err
}
