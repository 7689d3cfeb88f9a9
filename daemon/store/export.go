package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"headroom/daemon/store/codec"
	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

// Report is what an export came to.
type Report struct {
	// Rows that were written.
	Rows uint64
	// Lost are the spans of time that could not be given.
	Lost []LostError
}

// ExportCSV writes frames, chosen as for Frames, as a recording in the
// program's own format (see sensors/csvfile). It holds no more than those
// rows: package exported adds what a replay needs. What is lost is
// left out and reported; an error means that nothing could be exported, that
// out failed or that ctx ended.
func (v *view) ExportCSV(ctx context.Context, out io.Writer, id RunID, from, to time.Duration) (rep Report, err error) {
	w, list, live, err := v.plan(ctx, id, from, to)
	if err != nil {
		return rep, err
	}
	if len(list) == 0 && live.Len() == 0 {
		return rep, fmt.Errorf("cannot export run %v: the record has no frames of it", id)
	}
	channels := channelsIn(list, live)
	about, err := v.about(ctx, w.boot)
	if err != nil {
		return rep, err
	}
	// The very window that the channels are of: a run may go on meanwhile.
	if n := live.Len(); n > 0 {
		w.to = min(w.to, time.Duration(live.T[n-1]))
	} else {
		w.to = min(w.to, time.Duration(list[len(list)-1].T1))
	}
	to = max(w.to, 1)
	csv, err := csvfile.NewWriter(out, channels, about)
	if err != nil {
		return rep, err
	}
	for tick, err := range v.Frames(ctx, RunID{w.boot, 0}, w.from, to) {
		var lost *LostError
		switch {
		case errors.As(err, &lost):
			rep.Lost = append(rep.Lost, *lost)
			continue
		case err == nil:
			err = csv.Write(tick.T, tick.Wall, &tick.Frame)
		}
		if err != nil {
			return rep, fmt.Errorf("cannot export run %v: %w", id, err)
		}
		rep.Rows++
	}
	return rep, csv.Flush()
}

// channelsIn lists the channels that blocks and what is not in blocks hold.
func channelsIn(list []blockRow, live *codec.Columns) (out []frame.Channel) {
	for ch := range frame.NumChannels {
		has := len(live.Status[ch]) > 0
		for i := range list {
			has = has || list[i].Channels&(1<<ch) != 0
		}
		if has {
			out = append(out, ch)
		}
	}
	return out
}

// Contents is what a window holds, told without giving the frames.
type Contents struct {
	// Channels that there are samples of.
	Channels []frame.Channel
	// From and To are the first and the last frame's time, as the blocks say.
	From, To time.Duration
	// Frames there should be, and the spans of those that can't be given.
	Frames uint64
	Lost   []LostError
}

// Contents looks through a window, chosen as for Frames, and checks what
// Frames would give. A window without frames has Frames 0.
func (v *view) Contents(ctx context.Context, id RunID, from, to time.Duration) (c Contents, err error) {
	w, list, live, err := v.plan(ctx, id, from, to)
	if err != nil {
		return c, err
	}
	c.Channels = channelsIn(list, live)
	for i := range list {
		b := &list[i]
		if i == 0 {
			c.From = max(time.Duration(b.T0), w.from)
		}
		c.To = min(time.Duration(b.T1), w.to)
		c.Frames += uint64(b.Frames)
		var lost *LostError
		if _, err := v.load(ctx, b); errors.As(err, &lost) {
			c.Lost = append(c.Lost, *lost)
		} else if err != nil {
			return c, err
		}
	}
	for _, t := range live.T {
		if t := time.Duration(t); t >= w.from && t <= w.to {
			if c.Frames == 0 {
				c.From = t
			}
			c.To = t
			c.Frames++
		}
	}
	return c, ctx.Err()
}

// about is the head of an export.
func (v *view) about(ctx context.Context, boot uint64) (a csvfile.About, err error) {
	boots, err := v.Boots(ctx)
	for i := range boots {
		if b := &boots[i]; b.Boot == boot {
			a = csvfile.About{Software: b.Software, Config: b.ConfigHash, Machine: b.Machine}
		}
	}
	a.Boot = boot
	return a, err
}
