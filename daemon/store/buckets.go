package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"headroom/daemon/store/brief"
	"headroom/daemon/store/codec"
	"headroom/rules/frame"
)

// Bucket is one channel summed up over a span of time.
type Bucket struct {
	From, To time.Duration
	brief.Stat
}

// maxBuckets bounds an answer: more than a screen has pixels.
const maxBuckets = 10_000

// Buckets sums a channel up in n spans of equal width: from and to in
// monotonic time, or, where they are 0, the run's own beginning and end. A
// span without frames has Frames 0. Where spans are wider than 30 s they are
// made of the buckets that were kept beside the frames, which is fast, and
// exact to one such bucket at the edges; narrower ones are made of the frames
// themselves and, where those were thinned, of what is left.
func (v *view) Buckets(ctx context.Context, id RunID, ch frame.Channel, from, to time.Duration, n int) ([]Bucket, error) {
	if n < 1 || n > maxBuckets || ch >= frame.NumChannels {
		return nil, fmt.Errorf("cannot sum up %v in %d spans: ask for a known channel and for 1 to %d", ch, n, maxBuckets)
	}
	s, err := v.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	w, err := s.windowOf(ctx, id, from, to)
	if err == nil && to == 0 && id.N == 0 {
		w, err = s.wholeBoot(ctx, w)
	}
	if err != nil || w.to <= w.from {
		s.end()
		return nil, err
	}
	f := newFiller(w, ch, n)
	finest, err := s.fill(ctx, f)
	var list []blockRow
	if err == nil && finest {
		list, err = s.blocks(ctx, w)
	}
	if err == nil && w.boot == s.live.boot {
		err = s.fillLive(ctx, f)
	}
	s.end()
	if err != nil {
		return nil, err
	}
	return f.out, v.fillFromFrames(ctx, f, list)
}

// fillLive takes the frames that are in no block yet.
func (s *snapshot) fillLive(ctx context.Context, f *filler) error {
	last, ok, err := s.lastBlock(ctx, f.w.boot)
	if !ok {
		last = -1 << 63
	}
	if err == nil {
		f.frames(s.live.columns(last))
	}
	return err
}

// lastBlock tells when the newest block of a boot ends; ok is false for none.
func (s *snapshot) lastBlock(ctx context.Context, boot uint64) (t1 int64, ok bool, err error) {
	err = s.QueryRowContext(ctx, "SELECT t1 FROM block WHERE boot = ? ORDER BY t0 DESC LIMIT 1", int64(boot)).Scan(&t1)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, false, nil
	}
	if err != nil {
		return 0, false, fmt.Errorf("cannot find the frames of boot %d: %w", boot, err)
	}
	return t1, true, nil
}

// wholeBoot finds the ends of what a boot holds.
func (s *snapshot) wholeBoot(ctx context.Context, w window) (window, error) {
	last, sealed, err := s.lastBlock(ctx, w.boot)
	if err != nil {
		return w, err
	}
	w.to = w.from
	if sealed {
		var t0 int64
		const ask = "SELECT t0 FROM block WHERE boot = ? ORDER BY t0 LIMIT 1"
		if err := s.QueryRowContext(ctx, ask, int64(w.boot)).Scan(&t0); err != nil {
			return w, fmt.Errorf("cannot find the frames of boot %d: %w", w.boot, err)
		}
		w.from, w.to = max(w.from, time.Duration(t0)), time.Duration(last)
	}
	if w.boot == s.live.boot {
		if c := s.live.columns(int64(w.to)); c.Len() > 0 {
			if !sealed {
				w.from = max(w.from, time.Duration(c.T[0]))
			}
			w.to = time.Duration(c.T[c.Len()-1])
		}
	}
	return w, nil
}

// filler sorts what comes into the spans of an answer.
type filler struct {
	w   window
	ch  frame.Channel
	out []Bucket
}

func newFiller(w window, ch frame.Channel, n int) *filler {
	f := &filler{w: w, ch: ch, out: make([]Bucket, n)}
	for i := range f.out {
		f.out[i].From = w.from + f.part(i, n)
		f.out[i].To = w.from + f.part(i+1, n)
	}
	return f
}

// part is i nths of the window, without running over.
func (f *filler) part(i, n int) time.Duration {
	whole := f.w.to - f.w.from
	return whole/time.Duration(n)*time.Duration(i) + whole%time.Duration(n)*time.Duration(i)/time.Duration(n)
}

// at finds the span of a time; nil outside of the window.
func (f *filler) at(t time.Duration) *brief.Stat {
	if t < f.w.from || t > f.w.to {
		return nil
	}
	n := len(f.out)
	width := float64(f.w.to-f.w.from) / float64(n)
	i := min(int(float64(t-f.w.from)/width), n-1)
	for i > 0 && t < f.out[i].From {
		i--
	}
	for i < n-1 && t >= f.out[i].To {
		i++
	}
	return &f.out[i].Stat
}

func (f *filler) frames(c *codec.Columns) {
	if len(c.Status[f.ch]) == 0 {
		return
	}
	for i, t := range c.T {
		if to := f.at(time.Duration(t)); to != nil {
			to.AddSample(c.Values[f.ch][i], frame.Status(c.Status[f.ch][i]))
		}
	}
}

// buckets takes those whose middle lies in the window.
func (f *filler) buckets(bs []brief.Bucket, width time.Duration) {
	for i := range bs {
		middle := time.Duration(bs[i].Index)*width + width/2
		to := f.at(min(max(middle, f.w.from), f.w.to))
		if middle >= f.w.from-width/2 && middle <= f.w.to+width/2 && to != nil {
			to.Add(bs[i].Channels[f.ch])
		}
	}
}

// fill uses the coarsest buckets that are fine enough. finest tells that none
// is, so that the frames are needed.
func (s *snapshot) fill(ctx context.Context, f *filler) (finest bool, err error) {
	width := (f.w.to - f.w.from) / time.Duration(len(f.out))
	level := len(widths) - 1
	for ; level >= 0 && widths[level] > width; level-- {
		continue
	}
	switch level {
	case -1:
		return true, nil
	case 0:
		const ask = "SELECT x.data FROM block b JOIN brief x ON x.block = b.id WHERE b.boot = ? AND b.t1 >= ? AND b.t0 <= ? ORDER BY b.t0"
		return false, s.fillFrom(ctx, f, widths[0], ask, int64(f.w.boot), int64(f.w.from), int64(f.w.to))
	}
	step := int64(widths[level])
	const ask = "SELECT data FROM bucket WHERE level = ? AND boot = ? AND start BETWEEN ? AND ? ORDER BY start"
	return false, s.fillFrom(ctx, f, widths[level], ask, level, int64(f.w.boot), int64(f.w.from)/step-1, int64(f.w.to)/step+1)
}

// fillFrom reads rows of buckets; damaged ones are left out and told by Check.
func (s *snapshot) fillFrom(ctx context.Context, f *filler, width time.Duration, ask string, args ...any) error {
	rows, err := s.QueryContext(ctx, ask, args...)
	if err != nil {
		return fmt.Errorf("cannot read buckets of boot %d: %w", f.w.boot, err)
	}
	defer rows.Close() // its error is that of rows.Err
	var data []byte
	for rows.Next() {
		if err := rows.Scan(&data); err != nil {
			return fmt.Errorf("cannot read buckets of boot %d: %w", f.w.boot, err)
		}
		if bs, ok := brief.ReadChannel(data, f.ch); ok {
			f.buckets(bs, width)
		}
	}
	return rows.Err()
}

// fillFromFrames decodes the one channel; where frames are lost, their buckets
// serve.
func (v *view) fillFromFrames(ctx context.Context, f *filler, list []blockRow) error {
	var c codec.Columns
	for i := range list {
		k, err := v.load(ctx, &list[i])
		if err == nil {
			c.Reset()
			if k.Times(&c) == nil && k.Channel(f.ch, &c) == nil {
				f.frames(&c)
				continue
			}
		}
		var data []byte
		if v.db.QueryRowContext(ctx, "SELECT data FROM brief WHERE block = ?", list[i].id).Scan(&data) != nil {
			continue // nothing is left: the spans stay empty
		}
		if bs, ok := brief.ReadChannel(data, f.ch); ok {
			f.buckets(bs, widths[0])
		}
	}
	return ctx.Err()
}
