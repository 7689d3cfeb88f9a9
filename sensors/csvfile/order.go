package csvfile

import (
	"fmt"
	"time"

	"headroom/rules/frame"
)

// A logger's clock is set now and then, and now and then a row's time is
// nonsense. Rows stand in a file in the order in which they were written, so
// that order is kept, time never runs backwards, and one bad time costs its
// own row and no other.
const (
	// leapAtLeast and leapSteps are from when on a row is far ahead of the last
	// one: then it is held until the next row says which of them is right.
	leapAtLeast = int64(time.Minute)
	leapSteps   = 20
	// setBackAfter is how many rows must stand before the last one, in order
	// among themselves, until the clock counts as set back.
	setBackAfter = 5
)

// order keeps time running forwards.
type order struct {
	started bool
	// last is the time of the last row taken, step what lay before it; shift is
	// added to written times since the clock was set back. All in ns.
	last, step, shift int64
	// back counts rows that go back in a row, backLast is the last one's
	// written time.
	back     int
	backLast int64
}

// gap is how long the pause is that stands for an unknown one.
func (o *order) gap() int64 { return max(leapAtLeast, leapSteps*o.step) }

// far reports whether a time lies suspiciously far ahead.
func (o *order) far(ns int64) bool { return o.started && ns-o.last > o.gap() }

// take makes a time the last one.
func (o *order) take(ns int64) {
	if o.started && ns-o.last <= o.gap() {
		o.step = ns - o.last
	}
	o.started, o.last, o.back = true, ns, 0
}

// setBack takes a written time that goes back, and reports whether the clock
// was set: then it follows the last row after a gap.
func (o *order) setBack(written int64) bool {
	if o.back > 0 && written <= o.backLast {
		o.back = 0
	}
	o.back, o.backLast = o.back+1, written
	if o.back < setBackAfter {
		return false
	}
	o.shift = o.last + o.gap() - written
	return true
}

// row is one that was read ahead.
type row struct {
	f       frame.Frame
	ns      int64
	wall    time.Time
	line    int
	text    string
	waiting bool
}

// settle decides on the row that is held, now that another one was read: it is
// given if time goes on from it, and left out if the other one lies before it.
// give tells the former; then the other one waits for the next call.
func (r *Reader) settle(f *frame.Frame, ns int64, wall time.Time) (give bool) {
	r.held.waiting = false
	if ns < r.held.ns {
		r.leap()
		return false
	}
	r.ready = row{f: *f, ns: ns, wall: wall, waiting: true}
	*f = r.held.f
	return true
}

// leap reports the held row, which was the only one so far ahead.
func (r *Reader) leap() {
	r.stats.Skipped++
	r.reportAt(r.held.line, RowError{
		Column: r.names[r.timeCol], Text: r.held.text, Problem: "lies far ahead of the rows before and after it",
		Mend: "the row is left out", Skipped: true,
	})
}

// wentBack deals with a row whose time lies before the last one's. ns is its
// time once the clock counts as set back.
func (r *Reader) wentBack(cell []byte, written int64) (ns int64, ok bool) {
	by := time.Duration(r.order.last - written - r.order.shift)
	if r.own || !r.order.setBack(written) {
		r.skip(r.names[r.timeCol], cell, "goes back in time", "was the logger's clock set? split the file there")
		return 0, false
	}
	gap := time.Duration(r.order.gap())
	r.cell(r.names[r.timeCol], cell, fmt.Sprintf("and the rows before it stand %v back: the clock was set", by),
		fmt.Sprintf("the rows from here on follow after a gap of %v, their dates as written", gap))
	return written + r.order.shift, r.failed == nil
}
