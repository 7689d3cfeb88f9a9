package notify

import (
	"context"
	"errors"
	"log/slog"
	"time"
)

// never is longer than any run.
const never = 100 * 365 * 24 * time.Hour

// worker sends one target's queue, in a goroutine of its own.
type worker struct {
	Target
	traits  Traits
	session Session // nil where the sink keeps no connection
	queue   *queue
	tally   tally
	pauses  pauses
	log     *slog.Logger
	repeat  time.Time // when standing alarms are due again
}

func newWorker(t Target, q *queue, log *slog.Logger) *worker {
	w := &worker{
		Target: t, traits: t.Sink.Traits(), queue: q,
		pauses: pauses{least: t.RetryMin, most: t.RetryMax, next: t.RetryMin},
		log:    log.With("target", t.Name, "kind", t.Sink.Kind()),
	}
	w.traits.Batch = max(w.traits.Batch, 1)
	w.session, _ = t.Sink.(Session)
	w.tally.s.Name, w.tally.s.Kind = t.Name, t.Sink.Kind()
	return w
}

// offer queues a notification, if the target wants its level.
func (w *worker) offer(n Notification) {
	if n.Level >= w.MinLevel {
		w.queue.put(n)
	}
}

// run sends until soft ends, then what still waits, until it fails once or
// hard ends. It always ends soon after hard.
func (w *worker) run(soft, hard context.Context) {
	w.rearm()
	for soft.Err() == nil {
		if !w.due() {
			w.idle(soft)
			continue
		}
		if err := w.turn(hard); err != nil {
			wait, least := w.pauses.after(err)
			rest(soft, least, nil)
			if !w.fresh() { // news is worth a try before the pause is over
				rest(soft, wait-least, w.queue.wake)
			}
			continue
		}
		w.pauses.reset()
	}
	w.leave(hard)
}

// fresh reports whether news came since the last attempt began.
func (w *worker) fresh() bool {
	select {
	case <-w.queue.wake:
		return true
	default:
		return false
	}
}

// due reports whether there is anything to do now.
func (w *worker) due() bool {
	if w.traits.Repeat > 0 && !time.Now().Before(w.repeat) {
		w.queue.repeat(time.Now().Add(-w.traits.Linger))
		w.rearm()
	}
	waiting, _ := w.queue.pending()
	return waiting > 0 || w.closed()
}

func (w *worker) rearm() { w.repeat = time.Now().Add(w.traits.Repeat) }

// closed reports whether a connection is to be opened.
func (w *worker) closed() bool {
	if w.session == nil {
		return false
	}
	lost := w.session.Lost()
	if lost == nil {
		return true
	}
	select {
	case <-lost:
		return true
	default:
		return false
	}
}

// idle waits for something to do.
func (w *worker) idle(ctx context.Context) {
	d := never
	if w.traits.Repeat > 0 {
		d = time.Until(w.repeat)
	}
	var lost <-chan struct{}
	if w.session != nil {
		lost = w.session.Lost()
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	case <-w.queue.wake:
	case <-lost:
	}
}

// turn opens the connection if need be and sends one batch.
func (w *worker) turn(ctx context.Context) error {
	w.fresh() // what has come until now is looked at now
	if w.closed() {
		err := w.attempt(ctx, "connect", w.session.Open)
		if err != nil {
			w.failed(err)
			return err
		}
		w.queue.repeatAll()
	}
	batch := w.queue.take(w.traits.Batch)
	if len(batch) == 0 {
		w.succeeded(0, 0)
		return nil
	}
	return w.deliver(ctx, batch)
}

// deliver sends a batch. One that is refused is cut in two until the parts
// that the target won't take are found and given up.
func (w *worker) deliver(ctx context.Context, batch []Notification) error {
	err := w.attempt(ctx, "send", func(ctx context.Context) error { return w.Sink.Send(ctx, batch) })
	var f *Failure
	switch {
	case err == nil:
		w.succeeded(w.queue.done(batch))
		return nil
	case errors.As(err, &f) && f.Refused && len(batch) == 1:
		w.refused(batch, err)
		return nil
	case errors.As(err, &f) && f.Refused:
		half := len(batch) / 2
		if err := w.deliver(ctx, batch[:half]); err != nil {
			w.queue.retry(batch[half:])
			return err
		}
		return w.deliver(ctx, batch[half:])
	}
	w.queue.retry(batch)
	w.failed(err)
	return err
}

func (w *worker) attempt(ctx context.Context, what string, f func(context.Context) error) error {
	ctx, cancel := context.WithTimeout(ctx, w.Timeout)
	defer cancel()
	return guard(what, func() error { return f(ctx) })
}

// leave sends what still waits and says goodbye. A target that fails is not
// waited for any more.
func (w *worker) leave(ctx context.Context) {
	for {
		waiting, _ := w.queue.pending()
		if waiting == 0 || w.tally.read().Failing || ctx.Err() != nil || w.turn(ctx) != nil {
			break
		}
	}
	if err := w.attempt(ctx, "close", w.Sink.Close); err != nil {
		w.log.Warn("notifications ended without a goodbye", "error", err)
	}
	if _, news := w.queue.pending(); news > 0 {
		w.tally.edit(func(s *TargetStats) { s.Unsent += uint64(news) })
		w.log.Warn("notifications left unsent", "count", news)
	}
}
