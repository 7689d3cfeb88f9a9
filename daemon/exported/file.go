package exported

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"time"

	"headroom/daemon/parquetfile"
	"headroom/daemon/store"
	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

// ErrNotOwn is the error of Open for a file that is not a recording of this
// program.
var ErrNotOwn = errors.New("it is not a recording of this program")

// File is an export that was opened. It gives what a record gives of the one
// boot that it holds, so that a replay doesn't ask where frames come from.
type File struct {
	// Head is what the file says of itself.
	Head
	// Name of the file, as given to Open, and its Format.
	Name   string
	Format Format
	// Channels that have columns.
	Channels []frame.Channel
}

// Open reads the head of a file. It is opened anew each time its frames are
// read.
func Open(path string) (*File, error) {
	f := &File{Name: path}
	err := f.with(func(r rowReader) error {
		f.Channels = r.Channels()
		return nil
	})
	if err != nil {
		return nil, err
	}
	return f, nil
}

// rowReader is what the formats have in common.
type rowReader interface {
	Channels() []frame.Channel
	Next(f *frame.Frame) (t time.Duration, wall time.Time, err error)
}

// magic is how every Parquet file begins. Source: the format's specification,
// "File format".
const magic = "PAR1"

// with opens the file, reads its head and hands its rows over.
func (f *File) with(use func(rowReader) error) (err error) {
	file, err := os.Open(f.Name)
	if err != nil {
		return fmt.Errorf("cannot open the recording: %w", err)
	}
	defer file.Close() // only read from
	begin := make([]byte, len(magic))
	n, err := file.ReadAt(begin, 0)
	if err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("cannot read %s: %w", f.Name, err)
	}
	if string(begin[:n]) == magic {
		return f.withParquet(file, use)
	}
	f.Format = CSV
	buffered := bufio.NewReader(file)
	if !csvfile.IsOwn(buffered) {
		return fmt.Errorf("cannot read %s: %w", f.Name, ErrNotOwn)
	}
	r, err := csvfile.NewReader(buffered, f.Name, csvfile.Map{}, csvfile.Options{})
	if err != nil {
		return err
	}
	if f.Head, err = headOf(r.About()); err != nil {
		return fmt.Errorf("cannot read %s: %w", f.Name, err)
	}
	return use(r)
}

func (f *File) withParquet(file *os.File, use func(rowReader) error) error {
	f.Format = Parquet
	info, err := file.Stat()
	if err != nil {
		return fmt.Errorf("cannot read %s: %w", f.Name, err)
	}
	r, err := parquetfile.NewReader(file, info.Size())
	if err == nil {
		f.Head, err = headFrom(r)
	}
	if err != nil {
		return fmt.Errorf("cannot read %s: %w", f.Name, err)
	}
	return use(r)
}

// Boots returns the one boot. Without the lead-in, how the alarms stood when the
// boot began says nothing of where the rows begin, and is left out.
func (f *File) Boots(context.Context) ([]store.Info, error) {
	i := f.Info
	if f.LeadIn == None {
		i.Kept = nil
	}
	return []store.Info{i}, nil
}

// Run returns what was exported, if it is that run.
func (f *File) Run(_ context.Context, id store.RunID) (store.Run, error) {
	if id != f.Head.Run || id.N == 0 {
		return store.Run{}, fmt.Errorf("%s holds run %v: %w", f.Name, f.Head.Run, store.ErrNoRun)
	}
	return store.Run{
		ID: id, Start: f.From, End: f.To, Software: f.Info.Software, Config: f.Info.ConfigHash, Machine: f.Info.Machine,
		Source: f.Info.Source,
	}, nil
}

// Acts returns what was done in the boot up to the end of the file.
func (f *File) Acts(context.Context, store.RunID) ([]store.Act, error) { return f.Head.Acts, nil }

// Config returns the config in force, where the file has it.
func (f *File) Config(_ context.Context, hash string) (text []byte, ok bool, err error) {
	if hash != f.Info.ConfigHash || len(f.Info.ConfigText) == 0 {
		return nil, false, nil
	}
	return f.Info.ConfigText, true, nil
}

// errStop ends a loop that was broken off.
var errStop = errors.New("stop")

// Frames gives the rows between two moments, both inclusive; 0 for the file's
// own ends. What the file says was lost comes first, as *store.LostError.
func (f *File) Frames(ctx context.Context, _ store.RunID, from, to time.Duration) iter.Seq2[store.Tick, error] {
	return func(yield func(store.Tick, error) bool) {
		for i := range f.Lost {
			if !yield(store.Tick{}, &f.Lost[i]) {
				return
			}
		}
		var again = File{Name: f.Name}
		err := again.with(func(r rowReader) error { return give(ctx, r, from, to, yield) })
		if err != nil && !errors.Is(err, errStop) {
			yield(store.Tick{}, err)
		}
	}
}

func give(ctx context.Context, r rowReader, from, to time.Duration, yield func(store.Tick, error) bool) error {
	var tick store.Tick
	for n := 0; ; n++ {
		if n%1024 == 0 && ctx.Err() != nil {
			return context.Cause(ctx)
		}
		var err error
		tick.T, tick.Wall, err = r.Next(&tick.Frame)
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		case from != 0 && tick.T < from:
			continue
		case to != 0 && tick.T > to:
			return nil
		}
		if !yield(tick, nil) {
			return errStop
		}
	}
}
