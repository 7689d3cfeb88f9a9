package parquetfile

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"github.com/parquet-go/parquet-go"

	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

// Reader reads a recording row by row. It is for one goroutine.
type Reader struct {
	file    *parquet.File
	columns []bound
	// timeCol and wallCol are the columns' places; wallCol may be -1.
	timeCol, wallCol int

	groups  []parquet.RowGroup
	rows    parquet.Rows
	batch   []parquet.Row
	have    []parquet.Row
	last    time.Duration
	started bool
	failed  error
}

// bound is a channel with the places of its columns.
type bound struct {
	channel       frame.Channel
	value, status int
}

// NewReader reads the end of a file of so many bytes, where its layout stands.
// The error says what is wrong with it, or that it is not a recording of this
// program.
func NewReader(in io.ReaderAt, bytes int64) (r *Reader, err error) {
	defer recovered(&err)
	file, err := parquet.OpenFile(in, bytes)
	if err != nil {
		return nil, fmt.Errorf("cannot read the Parquet file: %w", err)
	}
	if err := checkVersion(file.Lookup(versionKey)); err != nil {
		return nil, fmt.Errorf("cannot read the Parquet file: %w", err)
	}
	r = &Reader{file: file, groups: file.RowGroups(), batch: make([]parquet.Row, batchRows)}
	return r, r.bind()
}

// recovered turns a panic of the library over a damaged file into an error.
func recovered(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("cannot read the Parquet file: it is damaged: %v", p)
	}
}

// bind finds the columns.
func (r *Reader) bind() error {
	schema := r.file.Schema()
	at := func(name string, kinds ...parquet.Kind) (int, error) {
		leaf, ok := schema.Lookup(name)
		if !ok || !leaf.Node.Leaf() {
			return -1, fmt.Errorf("cannot read the Parquet file: it has no column %q", name)
		}
		if leaf.Node.Repeated() || !slices.Contains(kinds, leaf.Node.Type().Kind()) {
			return -1, fmt.Errorf("cannot read the Parquet file: its column %q holds something else", name)
		}
		return leaf.ColumnIndex, nil
	}
	var err error
	if r.timeCol, err = at(timeName, parquet.Int64); err != nil {
		return err
	}
	if r.wallCol, err = at(wallName, parquet.Int64); err != nil {
		return err
	}
	for c := range frame.NumChannels {
		if _, ok := schema.Lookup(csvfile.ValueColumn(c)); !ok {
			continue // not fitted
		}
		b := bound{channel: c}
		if b.value, err = at(csvfile.ValueColumn(c), parquet.Double); err != nil {
			return err
		}
		if b.status, err = at(csvfile.StatusColumn(c), parquet.ByteArray); err != nil {
			return err
		}
		r.columns = append(r.columns, b)
	}
	return nil
}

// Word returns what the file says of itself under a name.
func (r *Reader) Word(key string) (value string, ok bool) { return r.file.Lookup(key) }

// Channels lists the channels that have columns.
func (r *Reader) Channels() []frame.Channel {
	out := make([]frame.Channel, len(r.columns))
	for i := range r.columns {
		out[i] = r.columns[i].channel
	}
	return out
}

// Next reads the next row into f, with NotFitted for channels that have no
// columns. Its time always lies after that of the row before, and no sample
// that is Good is other than a finite number. err is io.EOF at the end; any
// other error stands for good.
func (r *Reader) Next(f *frame.Frame) (t time.Duration, wall time.Time, err error) {
	defer func() {
		if err != nil {
			r.failed = err
		}
	}()
	defer recovered(&err)
	for len(r.have) == 0 {
		if r.failed != nil {
			return 0, wall, r.failed
		}
		if err := r.read(); err != nil {
			return 0, wall, err
		}
	}
	row := r.have[0]
	r.have = r.have[1:]
	return r.take(row, f)
}

// read gets the next rows.
func (r *Reader) read() error {
	if r.rows == nil {
		if len(r.groups) == 0 {
			return io.EOF
		}
		r.rows, r.groups = r.groups[0].Rows(), r.groups[1:]
	}
	n, err := r.rows.ReadRows(r.batch)
	r.have = r.batch[:n]
	if errors.Is(err, io.EOF) || err == nil && n == 0 {
		err = r.rows.Close()
		r.rows = nil
	}
	if err != nil {
		return fmt.Errorf("cannot read the Parquet file: %w", err)
	}
	return nil
}

// take makes a row a frame.
func (r *Reader) take(row parquet.Row, f *frame.Frame) (t time.Duration, wall time.Time, err error) {
	*f = frame.Frame{}
	var of []parquet.Value = row
	if len(of) != len(r.file.Schema().Columns()) {
		return 0, wall, errors.New("cannot read the Parquet file: a row has lost columns")
	}
	t = time.Duration(of[r.timeCol].Int64())
	if of[r.timeCol].IsNull() || r.started && t <= r.last {
		return 0, wall, fmt.Errorf("cannot read the Parquet file: a row's time, %v, doesn't lie after that of the row before, %v", t, r.last)
	}
	r.started, r.last = true, t
	if w := of[r.wallCol]; !w.IsNull() {
		wall = time.Unix(0, w.Int64()).UTC()
	}
	for _, b := range r.columns {
		f.Samples[b.channel] = sampleOf(of[b.value], of[b.status])
	}
	return t, wall, nil
}

// sampleOf makes a sample of its two cells. What can't be is failed.
func sampleOf(value, status parquet.Value) (s frame.Sample) {
	known := false
	if s.Status, known = frame.StatusByName(string(status.ByteArray())); !known {
		s.Status = frame.Failed
	}
	if value.IsNull() {
		if s.Status == frame.Good {
			s.Status = frame.Missing
		}
		return s
	}
	s.Value = value.Double()
	if math.IsNaN(s.Value) || math.IsInf(s.Value, 0) {
		s.Value = 0
		if s.Status == frame.Good {
			s.Status = frame.Failed
		}
	}
	return s
}
