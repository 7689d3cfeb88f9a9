package remote

import (
	"context"
	"errors"
	"fmt"
	"time"

	"headroom/daemon/store"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// minute is the step in which the record is sent: it is read, summed up and
// acknowledged as a whole.
const minute = time.Minute

// walk goes through one boot of the record, minute by minute. It holds what the
// next minute depends on, so that a boot is read once; after a restart it goes
// through the boot again from its beginning, without sending.
type walk struct {
	rec    Record
	info   store.Info
	judge  *judge
	notes  []store.Observation
	events []store.Event
	// next is the minute that comes next, last the time of the last frame.
	next int64
	last time.Duration
	// over is true once a newer boot has begun.
	over bool
	memo memo
}

func newWalk(ctx context.Context, r Record, info *store.Info) (*walk, error) {
	j, err := newJudge(ctx, r, info)
	if err != nil {
		return nil, fmt.Errorf("cannot begin boot %d: %w", info.Boot, err)
	}
	w := &walk{rec: r, info: *info, judge: j, memo: newMemo()}
	return w, w.refresh(ctx)
}

// refresh reads what may have come since, beside the frames.
func (w *walk) refresh(ctx context.Context) (err error) {
	id := store.RunID{Boot: w.info.Boot}
	if w.notes, err = w.rec.Observations(ctx, id.Boot); err != nil {
		return err
	}
	if w.events, err = w.rec.Events(ctx, id); err != nil {
		return err
	}
	return w.judge.refresh(ctx, w.rec, id.Boot)
}

// minutes calls f for each whole minute from the next one on, until f says
// that it is enough, and tells whether the boot has come to its end. What is
// not yet a whole minute stays for another time.
func (w *walk) minutes(ctx context.Context, f func(m *span) (more bool, err error)) (end bool, err error) {
	m := w.span()
	for tick, err := range w.rec.Frames(ctx, store.RunID{Boot: w.info.Boot}, m.from+1, 0) {
		var lost *store.LostError
		if errors.As(err, &lost) {
			m.lost = lost
			continue
		}
		if err != nil {
			return false, err
		}
		for tick.T > m.to {
			if ctx.Err() != nil {
				return false, context.Cause(ctx)
			}
			if more, err := w.take(m, f); !more || err != nil {
				return false, err
			}
			m = w.spanAfter(m)
		}
		m.ticks = append(m.ticks, tick)
	}
	if ctx.Err() != nil {
		return false, context.Cause(ctx)
	}
	if !w.over {
		return false, nil
	}
	if m.final = true; len(m.ticks) > 0 {
		_, err = w.take(m, f)
	}
	return true, err
}

// take hands a minute on; only then it is behind us.
func (w *walk) take(m *span, f func(m *span) (bool, error)) (more bool, err error) {
	if more, err = f(m); err != nil {
		return false, err
	}
	w.next++
	if n := len(m.ticks); n > 0 {
		w.last = m.ticks[n-1].T
	}
	return more, nil
}

// span is one minute of a boot: after from, up to and with to.
type span struct {
	index    int64
	from, to time.Duration
	ticks    []store.Tick
	// lost are frames near it that the record can't give any more.
	lost *store.LostError
	// final is true for the boot's last minute, which ends with it.
	final bool
}

func (w *walk) span() *span {
	from := time.Duration(w.next) * minute
	return &span{index: w.next, from: from, to: from + minute}
}

// spanAfter makes the next minute, with the same memory.
func (w *walk) spanAfter(m *span) *span {
	next := w.span()
	next.ticks, next.lost = m.ticks[:0], m.lost
	return next
}

// thinned reports whether the frames of the minute are gone, and their buckets
// perhaps not.
func (m *span) thinned() bool {
	return len(m.ticks) == 0 && m.lost != nil && m.lost.Thinned && m.lost.From <= m.to && m.lost.To > m.from
}

// memo is what one minute hands to the next.
type memo struct {
	standing [engine.NumAlarms]engine.Level
	status   [frame.NumChannels]frame.Status
	state    string
	// told is up to when alarms were told.
	told     time.Duration
	counters map[string]float64
}

func newMemo() memo { return memo{counters: map[string]float64{}} }
