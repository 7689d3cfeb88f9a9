package exported

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"time"

	"headroom/daemon/parquetfile"
	"headroom/daemon/store"
	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

// Record is where exports come from; *store.Store and *store.Reader are the
// ones there are.
type Record interface {
	Boots(ctx context.Context) ([]store.Info, error)
	Run(ctx context.Context, id store.RunID) (store.Run, error)
	Contents(ctx context.Context, id store.RunID, from, to time.Duration) (store.Contents, error)
	Frames(ctx context.Context, id store.RunID, from, to time.Duration) iter.Seq2[store.Tick, error]
	Acts(ctx context.Context, id store.RunID) ([]store.Act, error)
	Events(ctx context.Context, id store.RunID) ([]store.Event, error)
	Config(ctx context.Context, hash string) (text []byte, ok bool, err error)
	Chain(ctx context.Context, id store.RunID) (store.Chain, error)
}

var (
	_ Record = (*store.Store)(nil)
	_ Record = (*store.Reader)(nil)
)

// Format is how an export is written.
type Format string

// The formats.
const (
	CSV     Format = "csv"
	Parquet Format = "parquet"
)

// ParseFormat reads a format's name.
func ParseFormat(s string) (Format, error) {
	switch f := Format(s); f {
	case CSV, Parquet:
		return f, nil
	}
	return "", fmt.Errorf("%q is no format of an export: write csv or parquet", s)
}

// What is exported.
type What struct {
	// Run, number 0 for a whole boot.
	Run store.RunID
	// From and To cut it shorter, as monotonic times; 0 for its own ends.
	From, To time.Duration
	// Alone leaves the lead-in out: the file is smaller, and replays to nearly
	// the same verdicts only.
	Alone bool
}

// Report is what an export came to.
type Report struct {
	Head
	// Rows that were written, LeadInRows of them before what was asked for.
	Rows, LeadInRows uint64
}

// Write writes an export. An error means that the file is of no use: nothing
// could be exported, out failed, or ctx ended.
func Write(ctx context.Context, out io.Writer, r Record, what What, format Format) (rep Report, err error) {
	head, channels, err := gather(ctx, r, what)
	if err != nil {
		return rep, fmt.Errorf("cannot export run %v: %w", what.Run, err)
	}
	rep.Head = head
	rows, err := begin(out, format, channels, &rep.Head)
	if err != nil {
		return rep, err
	}
	first := time.Duration(0)
	if what.Alone {
		first = max(rep.From, 1)
	}
	for tick, err := range r.Frames(ctx, store.RunID{Boot: what.Run.Boot}, first, max(rep.To, 1)) {
		var lost *store.LostError
		if errors.As(err, &lost) {
			continue // it stands in the head
		}
		if err == nil {
			err = rows.Write(tick.T, tick.Wall, &tick.Frame)
		}
		if err != nil {
			return rep, fmt.Errorf("cannot export run %v: %w", what.Run, err)
		}
		rep.Rows++
		if tick.T < rep.From {
			rep.LeadInRows++
		}
	}
	return rep, rows.Close()
}

// rowWriter is what the formats have in common.
type rowWriter interface {
	Write(t time.Duration, wall time.Time, f *frame.Frame) error
	Close() error
}

type csvRows struct{ *csvfile.Writer }

// Close ends the rows; out stays open.
func (c csvRows) Close() error { return c.Flush() }

func begin(out io.Writer, format Format, channels []frame.Channel, h *Head) (rowWriter, error) {
	if format == Parquet {
		words, err := h.words()
		if err != nil {
			return nil, err
		}
		return parquetfile.NewWriter(out, channels, h.Info.Software, words)
	}
	about, err := h.about()
	if err != nil {
		return nil, err
	}
	w, err := csvfile.NewWriter(out, channels, about)
	return csvRows{w}, err
}

// gather makes the head, and finds the channels.
func gather(ctx context.Context, r Record, what What) (h Head, channels []frame.Channel, err error) {
	if h.Info, err = store.BootInfo(ctx, r, what.Run.Boot); err != nil {
		return h, nil, err
	}
	h.Run, h.From, h.To = what.Run, what.From, what.To
	if what.Run.N > 0 {
		run, err := r.Run(ctx, what.Run)
		if err != nil {
			return h, nil, err
		}
		h.From, h.To = max(h.From, run.Start), run.End
		if what.To > 0 {
			h.To = min(what.To, run.End)
		}
	}
	if what.From > 0 && h.To > 0 && h.From > h.To {
		return h, nil, fmt.Errorf("it begins at %v and ends at %v: there is nothing in between", h.From, h.To)
	}
	begin := time.Duration(0)
	if what.Alone {
		begin = h.From
	}
	c, err := r.Contents(ctx, store.RunID{Boot: what.Run.Boot}, begin, h.To)
	if err != nil {
		return h, nil, err
	}
	if c.Frames == 0 || c.To < h.From {
		return h, nil, errors.New("the record has no frames of it")
	}
	h.Lost = c.Lost
	if h.From == 0 {
		h.From = c.From
	}
	if h.To == 0 {
		h.To = c.To
	}
	h.LeadIn = Whole
	if len(h.Lost) > 0 {
		h.LeadIn = Damaged
	} else if what.Alone && c.From < h.From || what.Alone && what.Run.N > 0 {
		h.LeadIn = None
	}
	return h, c.Channels, h.say(ctx, r)
}

// say adds acts, events, config and the place in the chain.
func (h *Head) say(ctx context.Context, r Record) (err error) {
	whole := store.RunID{Boot: h.Run.Boot}
	if h.Acts, err = r.Acts(ctx, whole); err != nil {
		return err
	}
	h.Acts = slices.DeleteFunc(h.Acts, func(a store.Act) bool { return a.T > h.To })
	if h.Events, err = r.Events(ctx, whole); err != nil {
		return err
	}
	h.Events = slices.DeleteFunc(h.Events, func(e store.Event) bool { return e.T < h.From || e.T > h.To })
	if text, ok, err := r.Config(ctx, h.Info.ConfigHash); err != nil {
		return err
	} else if ok {
		h.Info.ConfigText = text
	}
	c, err := r.Chain(ctx, h.Run)
	if errors.Is(err, store.ErrNoChain) {
		return nil
	}
	if err == nil {
		h.Chain = chainText(c)
	}
	return err
}
