package pulse

import (
	"time"

	"headroom/sensors/gpiochip"
)

// numMarks edges are remembered, markShare of the window apart, so that memory
// doesn't grow with the pulse rate.
const (
	numMarks  = 64
	markShare = 32
)

// mark is an edge: its kernel time and how many pulses came up to it.
type mark struct {
	at    time.Duration
	count uint64
}

// train is the reckoning from edges to a rate. It has no clock and no I/O.
type train struct {
	// minPeriod is the shortest believable time between two edges.
	minPeriod time.Duration
	// window is the time over which the rate is a mean.
	window time.Duration
	// zeroAfter without an edge the rate is 0.
	zeroAfter time.Duration

	begun      bool
	seq        uint32
	last, prev mark
	marks      [numMarks]mark // a ring, oldest at head
	head, n    int

	lost, rejected uint64
}

// add takes the next event. Sequence numbers wrap; a step of more than one is
// a loss, whose pulses are added as far as they fit into the time that passed.
func (t *train) add(e gpiochip.Event) {
	if !t.begun {
		t.begun, t.seq = true, e.LineSeq
		t.last = mark{at: e.At, count: 1}
		t.prev = t.last
		t.remember(t.last)
		return
	}
	step := e.LineSeq - t.seq
	t.seq = e.LineSeq
	if step == 0 || step > 1<<31 {
		step = 1 // the numbering began anew: this one edge is all we know
	}
	t.lost += uint64(step - 1)
	fit := uint64(0)
	if e.At > t.last.at {
		fit = uint64((e.At - t.last.at) / t.minPeriod)
	}
	pulses := min(uint64(step), fit)
	t.rejected += uint64(step) - pulses
	if pulses == 0 {
		return
	}
	t.prev, t.last = t.last, mark{at: e.At, count: t.last.count + pulses}
	t.remember(t.last)
}

// remember keeps a mark if it stands far enough from the one before, and drops
// those that have left the window.
func (t *train) remember(m mark) {
	for t.n > 0 && t.marks[t.head].at < m.at-t.window {
		t.head, t.n = (t.head+1)%numMarks, t.n-1
	}
	if t.n > 0 && m.at-t.marks[(t.head+t.n-1)%numMarks].at < t.window/markShare {
		return
	}
	if t.n == numMarks { // can't happen with markShare < numMarks; the oldest goes
		t.head, t.n = (t.head+1)%numMarks, t.n-1
	}
	t.marks[(t.head+t.n)%numMarks] = m
	t.n++
}

// base is the edge from which the rate is reckoned: the oldest in the window,
// or the one before the last where the window holds no other.
func (t *train) base() mark {
	if t.n > 0 && t.marks[t.head].at < t.last.at {
		return t.marks[t.head]
	}
	return t.prev
}

// rate returns the pulses per second at now, on the clock of the events.
// falling is true when no edge has come for longer than the period so far: hz
// is then the most that the silence allows, one pulse per time since the last.
// ok is false while no two edges have come and zeroAfter hasn't passed since
// since, when listening began.
func (t *train) rate(now, since time.Duration) (hz float64, falling, ok bool) {
	if !t.begun {
		return 0, false, now-since >= t.zeroAfter
	}
	silence := now - t.last.at
	if silence >= t.zeroAfter {
		return 0, true, true
	}
	b := t.base()
	span := t.last.at - b.at
	if span <= 0 { // a first edge alone has no rate; before it there was silence
		return 0, true, t.last.at-since >= t.zeroAfter
	}
	hz = float64(t.last.count-b.count) / span.Seconds()
	if silence > 0 {
		if most := 1 / silence.Seconds(); most < hz {
			return most, true, true
		}
	}
	return hz, false, true
}
