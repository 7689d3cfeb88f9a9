package csvfile

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"time"

	"headroom/rules/frame"
)

// Encoder makes the text of the program's own format. It keeps no text itself,
// so that a recorder can hold rows until they are safe on disk.
type Encoder struct {
	columns []frame.Channel
	has     [frame.NumChannels]bool
}

// NewEncoder makes an encoder with columns for the given channels; unknown and
// repeated ones are left out.
func NewEncoder(channels []frame.Channel) *Encoder {
	e := &Encoder{}
	for _, c := range channels {
		if c < frame.NumChannels && !e.has[c] {
			e.has[c] = true
			e.columns = append(e.columns, c)
		}
	}
	slices.Sort(e.columns)
	return e
}

// Channels lists the channels that have columns, in their order.
func (e *Encoder) Channels() []frame.Channel { return slices.Clone(e.columns) }

// Covers reports whether the columns hold all that the frame says.
func (e *Encoder) Covers(f *frame.Frame) bool {
	for c := range f.Samples {
		if !e.has[c] && f.Samples[c] != (frame.Sample{}) {
			return false
		}
	}
	return true
}

// AppendHead appends the head of a recording, up to and with the header line.
func (e *Encoder) AppendHead(dst []byte, about About) []byte {
	dst = append(dst, exportMark...)
	dst = strconv.AppendInt(dst, exportVersion, 10)
	dst = append(dst, '\n')
	dst = about.append(dst)
	dst = append(dst, timeName+","+wallName...)
	for _, c := range e.columns {
		dst = append(append(dst, ','), ValueColumn(c)...)
		dst = append(append(dst, ','), StatusColumn(c)...)
	}
	return append(dst, '\n')
}

// AppendRow appends one row. Channels without a column are left out: see
// Covers. A value that isn't finite has no place in a file: it becomes 0, and
// a good status becomes failed, as the engine takes such a sample too. A wall
// time outside the years 1825 to 2115 becomes none. It doesn't allocate when
// dst has room.
func (e *Encoder) AppendRow(dst []byte, t time.Duration, wall time.Time, f *frame.Frame) []byte {
	dst = strconv.AppendInt(dst, int64(t), 10)
	dst = append(dst, ',')
	if wallOK(wall) {
		dst = wall.UTC().AppendFormat(dst, wallLayout)
	}
	for _, c := range e.columns {
		dst = appendSample(dst, f.Samples[c])
	}
	return append(dst, '\n')
}

func appendSample(dst []byte, s frame.Sample) []byte {
	if math.IsNaN(s.Value) || math.IsInf(s.Value, 0) {
		s.Value = 0
		if s.Status == frame.Good {
			s.Status = frame.Failed
		}
	}
	if s.Status >= frame.NumStatuses {
		s.Status = frame.Failed
	}
	dst = append(dst, ',')
	if s.Status == frame.Good || math.Float64bits(s.Value) != 0 {
		dst = strconv.AppendFloat(dst, s.Value, 'g', -1, 64)
	}
	dst = append(dst, ',')
	return append(dst, s.Status.String()...)
}

// Writer writes a recording in the program's own format. It is for one
// goroutine; the caller must Flush at the end.
type Writer struct {
	out     *bufio.Writer
	enc     *Encoder
	row     []byte
	last    time.Duration
	started bool
}

// NewWriter writes the head of a recording with columns for the channels.
func NewWriter(w io.Writer, channels []frame.Channel, about About) (*Writer, error) {
	wr := &Writer{out: bufio.NewWriter(w), enc: NewEncoder(channels)}
	if _, err := wr.out.Write(wr.enc.AppendHead(nil, about)); err != nil {
		return nil, fmt.Errorf("cannot write the head of the recording: %w", err)
	}
	return wr, nil
}

// Write adds a row, by the rules of Encoder.AppendRow. A row that the format
// can't hold is an error and isn't written: a time that doesn't lie after the
// last row's, one beyond 146 years, or a channel without
// columns.
func (w *Writer) Write(t time.Duration, wall time.Time, f *frame.Frame) error {
	if w.started && t <= w.last || t < -maxNs || t > maxNs {
		return fmt.Errorf("cannot write the row at %v: its time must lie after the last row's, %v, and within 146 years", t, w.last)
	}
	if !w.enc.Covers(f) {
		return fmt.Errorf("cannot write the row at %v: it has a channel without a column; the columns hold %v", t, w.enc.columns)
	}
	w.row = w.enc.AppendRow(w.row[:0], t, wall, f)
	if _, err := w.out.Write(w.row); err != nil {
		return fmt.Errorf("cannot write the row at %v: %w", t, err)
	}
	w.started, w.last = true, t
	return nil
}

// Flush hands all rows to the underlying writer.
func (w *Writer) Flush() error {
	if err := w.out.Flush(); err != nil {
		return fmt.Errorf("cannot write the recording: %w", err)
	}
	return nil
}
