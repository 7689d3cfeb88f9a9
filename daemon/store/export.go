package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

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
// program's own format (see sensors/csvfile). Replayed, it gives the verdicts
// of then to the last bit, if it begins where the boot began. What is lost is
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
	var channels []frame.Channel
	for ch := range frame.NumChannels {
		has := len(live.Status[ch]) > 0
		for i := range list {
			has = has || list[i].Channels&(1<<ch) != 0
		}
		if has {
			channels = append(channels, ch)
		}
	}
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
