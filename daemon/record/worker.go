package record

import (
	"context"
	"errors"
	"time"
)

const (
	// syncEvery bounds what a power cut costs.
	syncEvery = time.Second
	// minBackOff and maxBackOff are the pauses after an error; each one is
	// twice the last.
	minBackOff = time.Second
	maxBackOff = time.Minute
)

// worker takes entries off a queue and puts them into a log.
type worker struct {
	q    *Queue
	open func() (Log, error)
	log  Log
	// pause is the next back-off, until the time before which nothing is tried.
	pause time.Duration
	until time.Time
}

// Run feeds the log that open gives until ctx ends, and then writes what is
// left and closes it. Whatever fails is counted, told by Health and tried again
// after a pause that grows to a minute; open is called again when it failed.
// Frames are synced each second, alarms at once. The error is that of the last
// writing and closing.
func (q *Queue) Run(ctx context.Context, open func() (Log, error)) error {
	w := &worker{q: q, open: open, pause: minBackOff}
	tick := time.NewTicker(syncEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return w.end()
		case <-q.wake:
			w.drain()
		case <-tick.C:
			w.drain()
			w.sync()
		}
	}
}

// drain appends what is waiting. While the disk fails the log's own memory
// fills first, then the queue.
func (w *worker) drain() {
	for e := w.q.first(); e != nil; e = w.q.first() {
		if !w.ready() {
			return
		}
		err := w.give(e)
		if errors.Is(err, ErrFull) {
			if !w.sync() {
				return
			}
			err = w.give(e)
		}
		if err != nil {
			w.fail(err)
			return
		}
		alarms := len(e.verdicts.Transitions()) > 0
		w.q.pop()
		if alarms {
			w.sync()
		}
	}
}

// give hands one entry over, with what stands beside its frame.
func (w *worker) give(e *entry) error {
	return w.q.watch(func() error {
		if l, ok := w.log.(lossNoter); ok && e.loss.Frames > 0 {
			l.NoteLoss(e.loss)
			e.loss = Loss{}
		}
		if l, ok := w.log.(totalsNoter); ok && e.hasTotals {
			l.NoteTotals(&e.totals)
		}
		return w.log.Append(e.t, e.wall, &e.raw, &e.verdicts)
	})
}

// ready opens the log when there is none.
func (w *worker) ready() bool {
	if w.log != nil {
		return true
	}
	if w.waiting() {
		return false
	}
	err := w.q.watch(func() (err error) {
		log, err := w.open()
		if err == nil {
			w.log = log
		}
		return err
	})
	return err == nil || w.fail(err)
}

func (w *worker) waiting() bool { return time.Now().Before(w.until) }

// sync reports whether all that was appended is safe.
func (w *worker) sync() bool {
	if w.log == nil || w.waiting() {
		return false
	}
	if err := w.q.watch(w.log.Sync); err != nil {
		return w.fail(err)
	}
	w.pause, w.until = minBackOff, time.Time{}
	w.q.works()
	return true
}

// fail notes an error and begins a pause. It returns false for its callers.
func (w *worker) fail(err error) bool {
	w.q.failed(err)
	w.until = time.Now().Add(w.pause)
	w.pause = min(2*w.pause, maxBackOff)
	return false
}

// end is the last chance for what is waiting: pauses no longer count.
func (w *worker) end() error {
	w.until = time.Time{}
	w.drain()
	if w.log == nil {
		return nil
	}
	if err := w.q.watch(w.log.Close); err != nil {
		w.q.failed(err)
		return err
	}
	return nil
}
