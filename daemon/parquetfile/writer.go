package parquetfile

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/parquet-go/parquet-go"

	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

const (
	// groupRows is an hour of ten frames a second: what a row group holds, and
	// so what is held in memory at most.
	groupRows = 36_000
	// batchRows go to the library at a time.
	batchRows = 256
)

// Word is one thing that is said of a recording, by its name.
type Word struct{ Key, Value string }

// Writer writes a recording. It is for one goroutine; the caller must Close it
// at the end, or the file is none.
type Writer struct {
	out      *parquet.GenericWriter[any]
	covers   csvfile.Encoder
	channels []frame.Channel
	rows     []parquet.Row
	n        int
	last     time.Duration
	started  bool
}

// NewWriter begins a recording with columns for the channels, unknown and
// repeated ones left out. software is the version that writes.
func NewWriter(w io.Writer, channels []frame.Channel, software string, words []Word) (*Writer, error) {
	enc := csvfile.NewEncoder(channels)
	channels = enc.Channels()
	config := []parquet.WriterOption{
		schemaFor(channels), parquet.Compression(&parquet.Zstd), parquet.MaxRowsPerRowGroup(groupRows),
		parquet.CreatedBy("headroom", software, ""),
		parquet.KeyValueMetadata(versionKey, strconv.Itoa(layoutVersion)),
		parquet.KeyValueMetadata(unitsKey, unitsText(channels)),
	}
	for _, word := range words {
		config = append(config, parquet.KeyValueMetadata(word.Key, word.Value))
	}
	if _, err := parquet.NewWriterConfig(config...); err != nil {
		return nil, fmt.Errorf("cannot begin the Parquet file: %w", err)
	}
	out := &Writer{out: parquet.NewGenericWriter[any](w, config...), covers: *enc, channels: channels, rows: make([]parquet.Row, batchRows)}
	for i := range out.rows {
		out.rows[i] = make(parquet.Row, 0, 3+2*len(channels))
	}
	return out, nil
}

// Write adds a row. Its time must lie after the last row's, and its frame must
// hold no channel without a column. A value that isn't finite becomes null, and
// a good status failed, as the engine takes such a sample too; a wall time
// outside the years 1825 to 2115 becomes none.
func (w *Writer) Write(t time.Duration, wall time.Time, f *frame.Frame) error {
	if w.started && t <= w.last {
		return fmt.Errorf("cannot write the row at %v: its time must lie after the last row's, %v", t, w.last)
	}
	if !w.covers.Covers(f) {
		return fmt.Errorf("cannot write the row at %v: it has a channel without a column", t)
	}
	row := append(w.rows[w.n][:0], parquet.Int64Value(int64(t)).Level(0, 0, 0), parquet.DoubleValue(t.Seconds()).Level(0, 0, 1))
	row = append(row, wallValue(wall).Level(0, levelOf(wallOK(wall)), 2))
	for i, c := range w.channels {
		s := f.Samples[c]
		if math.IsNaN(s.Value) || math.IsInf(s.Value, 0) {
			s.Value = 0
			if s.Status == frame.Good {
				s.Status = frame.Failed
			}
		}
		if s.Status >= frame.NumStatuses {
			s.Status = frame.Failed
		}
		value := parquet.NullValue()
		has := s.Status == frame.Good || math.Float64bits(s.Value) != 0
		if has {
			value = parquet.DoubleValue(s.Value)
		}
		row = append(row, value.Level(0, levelOf(has), 3+2*i), parquet.ByteArrayValue(statusWords[s.Status]).Level(0, 0, 4+2*i))
	}
	w.rows[w.n] = row
	w.n++
	w.started, w.last = true, t
	if w.n == len(w.rows) {
		return w.flush()
	}
	return nil
}

func (w *Writer) flush() error {
	if _, err := w.out.WriteRows(w.rows[:w.n]); err != nil {
		return fmt.Errorf("cannot write the Parquet file: %w", err)
	}
	w.n = 0
	return nil
}

// Close writes what is left and the end of the file, without which nobody can
// read it.
func (w *Writer) Close() error {
	if err := w.flush(); err != nil {
		return err
	}
	if err := w.out.Close(); err != nil {
		return fmt.Errorf("cannot end the Parquet file: %w", err)
	}
	return nil
}

// statusWords are the words of frame.Status as bytes.
var statusWords = func() (w [frame.NumStatuses][]byte) {
	for s := range frame.NumStatuses {
		w[s] = []byte(s.String())
	}
	return w
}()

func wallOK(w time.Time) bool {
	y := w.UTC().Year()
	return y >= 1825 && y <= 2115
}

func wallValue(w time.Time) parquet.Value {
	if !wallOK(w) {
		return parquet.NullValue()
	}
	return parquet.Int64Value(w.UnixNano())
}

// levelOf is the definition level of an optional value.
func levelOf(has bool) int {
	if has {
		return 1
	}
	return 0
}

// Channels lists the channels that have columns.
func (w *Writer) Channels() []frame.Channel { return slices.Clone(w.channels) }
