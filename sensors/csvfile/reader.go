package csvfile

import (
	"errors"
	"fmt"
	"io"
	"time"

	"headroom/rules/frame"
)

// Options of a reader.
type Options struct {
	// OnProblem is told of everything that can't be used; nil to only count.
	// It is called from within Next.
	OnProblem func(RowError)
	// Strict makes the first problem the end: Next returns it as an error of
	// type *RowError.
	Strict bool
}

// Reader reads a recording row by row. It is for one goroutine.
type Reader struct {
	name  string
	opts  Options
	lines *lineScanner
	split splitter
	names []string
	about About
	own   bool

	clock, wallClock *clock
	timeCol, wallCol int
	// dateCol holds the date where the time's column has none; -1 for none. both
	// is the two of the present row.
	dateCol int
	both    []byte
	// units is set until the first line after the header was seen: loggers write
	// the units there.
	units   bool
	columns []bound
	point   byte

	order order
	first int64 // ns of the first row
	// held is far ahead and waits for the next row's word; ready was read
	// already.
	held, ready row
	width       int // fields of the last row, to tell a cut line from a short log
	stats       Stats
	failed      error
}

// bound is a column with its places in a line; -1 for none.
type bound struct {
	Column
	value, status int
}

// NewReader reads the head of a recording. name stands in errors. A recording
// of this program is known by its header and read without m, which may be
// zero then. An error says what is wrong with the map, or which of its columns
// the file doesn't have.
func NewReader(in io.Reader, name string, m Map, opts Options) (*Reader, error) {
	if err := m.Validate(); err != nil {
		return nil, fmt.Errorf("cannot read %s: %w", name, err)
	}
	r := &Reader{name: name, opts: opts, lines: newLineScanner(in)}
	if err := r.readHead(m); err != nil {
		return nil, err
	}
	r.width = len(r.names)
	return r, nil
}

// About returns what the head says of a recording of this program; empty for
// others.
func (r *Reader) About() About { return r.about }

// Own reports whether the file is a recording of this program.
func (r *Reader) Own() bool { return r.own }

// Channels lists the channels that the file's columns feed.
func (r *Reader) Channels() []frame.Channel {
	out := make([]frame.Channel, len(r.columns))
	for i := range r.columns {
		out[i] = r.columns[i].Channel
	}
	return out
}

// Stats returns what was met so far.
func (r *Reader) Stats() Stats { return r.stats }

// Next reads the next usable row into f, in SI, with NotFitted for the channels
// that have no column. No sample that is Good is other than a finite number. t
// is the row's monotonic time: as recorded in a recording of this program, and
// 0 at the first row of any other. It always lies after that of the row before:
// a lone row far ahead is left out, and where the clock was set back the rows
// go on after a gap.
// wall is the row's date, zero where the file has none. err is io.EOF at the
// end, a *RowError if Options.Strict is set, or the error of the file itself;
// each stands for good.
func (r *Reader) Next(f *frame.Frame) (t time.Duration, wall time.Time, err error) {
	if r.ready.waiting {
		r.ready.waiting = false
		*f = r.ready.f
		t, wall = r.give(r.ready.ns, r.ready.wall)
		return t, wall, nil
	}
	for r.failed == nil {
		ns, ok := r.read()
		if !ok {
			continue
		}
		if wall = r.fill(f, ns-r.order.shift); r.failed != nil { // a bad cell, when strict
			break
		}
		if r.held.waiting && r.settle(f, ns, wall) {
			t, wall = r.give(r.held.ns, r.held.wall)
			return t, wall, nil
		}
		if !r.own && r.order.far(ns) {
			r.held = row{f: *f, ns: ns, wall: wall, line: r.lines.n, text: shorten(r.timeCell()), waiting: true}
			continue
		}
		t, wall = r.give(ns, wall)
		return t, wall, nil
	}
	if r.held.waiting && errors.Is(r.failed, io.EOF) { // no row says that it is wrong
		r.held.waiting = false
		*f = r.held.f
		t, wall = r.give(r.held.ns, r.held.wall)
		return t, wall, nil
	}
	return 0, time.Time{}, r.failed
}

// give counts a row and makes its time the last one.
func (r *Reader) give(ns int64, wall time.Time) (time.Duration, time.Time) {
	r.stats.Rows++
	r.order.take(ns)
	return time.Duration(ns - r.first), wall
}

// read reads the next line and its time; ok is false where it is no row, or
// the file has ended.
func (r *Reader) read() (ns int64, ok bool) {
	line, ended, err := r.lines.next()
	switch {
	case errors.Is(err, errLongLine):
		r.skip("", line, "is longer than any row can be", "look there for a lost line end")
		return 0, false
	case errors.Is(err, io.EOF):
		r.failed = io.EOF
		return 0, false
	case err != nil:
		r.failed = fmt.Errorf("cannot read %s after line %d: %w", r.name, r.lines.n, err)
		return 0, false
	case len(line) == 0 || line[0] == '#' || len(trim(line)) == 0:
		return 0, false
	}
	return r.row(line, ended)
}

// row cuts a line and finds its time; ok is false when the row is skipped.
func (r *Reader) row(line []byte, ended bool) (ns int64, ok bool) {
	n, ok := r.split.split(line)
	if !ok {
		r.skip("", line, "has a quote that is not closed, or text after one", "quote whole fields only")
		return 0, false
	}
	if extra := n - len(r.names); extra > 0 && (extra > 1 || line[len(line)-1] != r.split.delim) {
		r.skip("", line, fmt.Sprintf("has %d fields where the header has %d", n, len(r.names)),
			"two lines run together, or a decimal comma where the map has none?")
		return 0, false
	}
	if !ended && (r.own || n < len(r.names)) {
		r.skip("", line, "is cut off at the end of the file", "the row was being written when the power went; nothing to mend")
		return 0, false
	}
	if r.units {
		r.units = false
		if r.unitsRow() {
			return 0, false
		}
	}
	if n < len(r.names) && !r.short(n, line) {
		return 0, false
	}
	r.width = n
	return r.time()
}

// short deals with a row of too few fields: the channels beyond have no
// reading. Where the first such row ends, a number may have been cut through,
// so its last field doesn't count either; once the rows are steadily shorter,
// it does.
func (r *Reader) short(n int, line []byte) bool {
	r.stats.ShortRows++
	if n == r.width && !r.own {
		return true
	}
	if n <= r.timeCol+1 || r.own { // this program writes whole rows only
		r.skip("", line, fmt.Sprintf("has %d fields where the header has %d", n, len(r.names)), "the row is cut off")
		return false
	}
	r.cell("", line, fmt.Sprintf("has %d fields where the header has %d", n, len(r.names)),
		"the channels beyond have no reading from here on; did the logger lose a sensor?")
	r.split.fields = r.split.fields[:n-1]
	return r.failed == nil
}

// time reads the row's time and holds it against the last one.
func (r *Reader) time() (ns int64, ok bool) {
	cell := r.timeCell()
	written, ok := r.clock.parse(cell)
	if !ok {
		r.skip(r.names[r.timeCol], cell, "is no time in the column's format", "check the time format and unit in the column map")
		return 0, false
	}
	ns = written + r.order.shift
	switch {
	case !r.order.started:
		if !r.own {
			r.first = ns
		}
	case ns == r.order.last || r.held.waiting && ns == r.held.ns:
		r.skip(r.names[r.timeCol], cell, "repeats the time of the row before",
			"let the logger write fractions of a second, or one row a second")
		return 0, false
	case ns < r.order.last:
		return r.wentBack(cell, written)
	}
	return ns, true
}

// field returns a field of the present line without its outer spaces, empty
// where the line is too short.
func (r *Reader) field(i int) []byte {
	if i < 0 || i >= len(r.split.fields) {
		return nil
	}
	return trim(r.split.fields[i])
}

// skip reports a row that is left out.
func (r *Reader) skip(column string, text []byte, problem, mend string) {
	r.stats.Skipped++
	r.report(RowError{Column: column, Text: shorten(text), Problem: problem, Mend: mend, Skipped: true})
}

// cell reports a part of a row that can't be used.
func (r *Reader) cell(column string, text []byte, problem, mend string) {
	r.report(RowError{Column: column, Text: shorten(text), Problem: problem, Mend: mend})
}

func (r *Reader) report(e RowError) { r.reportAt(r.lines.n, e) }

func (r *Reader) reportAt(line int, e RowError) {
	e.File, e.Line = r.name, line
	if len(e.Column) > maxText {
		e.Column = shorten([]byte(e.Column))
	}
	if r.opts.OnProblem != nil {
		r.opts.OnProblem(e)
	}
	if r.opts.Strict && r.failed == nil {
		r.failed = &e
	}
}
