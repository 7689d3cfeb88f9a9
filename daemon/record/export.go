package record

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

// Report is what a reading of the record came to.
type Report struct {
	// Rows or events that were read.
	Rows uint64
	// Problems are what could not be read, as words for people; no more than
	// maxProblems are kept. A last line cut off by a power cut is one.
	Problems []string
	// Damaged counts all problems.
	Damaged uint64
}

const maxProblems = 20

func (r *Report) add(problem string) {
	r.Damaged++
	if len(r.Problems) < maxProblems {
		r.Problems = append(r.Problems, problem)
	}
}

// Export writes the frames of one run, from and to inclusive in monotonic time,
// as one recording in the program's own format; a to of 0 means up to the end.
// Rows that stand in two segments are written once. What can't be read is left
// out and reported; an error means that nothing could be exported or that w
// failed.
func Export(w io.Writer, dir string, boot uint64, from, to time.Duration) (Report, error) {
	return export(osFS{}, w, dir, boot, from, to)
}

func export(fsys fileSystem, w io.Writer, dir string, boot uint64, from, to time.Duration) (rep Report, err error) {
	folder := bootFolder(dir, boot)
	all, err := segments(fsys, folder)
	if err != nil {
		return rep, fmt.Errorf("cannot export run %d: %w", boot, err)
	}
	x := exporter{fsys: fsys, rep: &rep, from: from, to: to}
	names := make([]string, len(all))
	for i, n := range all {
		names[i] = filepath.Join(folder, segmentName(n))
	}
	about, channels := x.heads(names)
	about.Boot = boot
	if x.out, err = csvfile.NewWriter(w, channels, about); err != nil {
		return rep, err
	}
	for _, name := range names {
		if err := x.segment(name); err != nil {
			return rep, fmt.Errorf("cannot export run %d: %w", boot, err)
		}
	}
	return rep, x.out.Flush()
}

type exporter struct {
	fsys     fileSystem
	rep      *Report
	from, to time.Duration
	out      *csvfile.Writer
	last     time.Duration
	started  bool
}

// heads finds the columns that any segment has. Segments that can't be opened
// are reported by segment.
func (x *exporter) heads(names []string) (about csvfile.About, channels []frame.Channel) {
	for _, name := range names {
		_ = x.with(name, csvfile.Options{}, func(r *csvfile.Reader) error {
			about = r.About()
			channels = append(channels, r.Channels()...)
			return nil
		})
	}
	return about, channels
}

func (x *exporter) with(name string, opts csvfile.Options, use func(*csvfile.Reader) error) error {
	f, err := x.fsys.OpenFile(name, os.O_RDONLY, 0)
	if err != nil {
		return err
	}
	defer f.Close() // only read from: closing can lose nothing
	r, err := csvfile.NewReader(f, name, csvfile.Map{}, opts)
	if err != nil {
		return err
	}
	return use(r)
}

// writeError tells the output's failure from a segment's.
type writeError struct{ error }

func (x *exporter) segment(name string) error {
	opts := csvfile.Options{OnProblem: func(e csvfile.RowError) { x.rep.add(e.Error()) }}
	err := x.with(name, opts, x.rows)
	var we writeError
	if errors.As(err, &we) {
		return we.error
	}
	if err != nil {
		x.rep.add(err.Error())
	}
	return nil
}

func (x *exporter) rows(r *csvfile.Reader) error {
	var f frame.Frame
	for {
		t, wall, err := r.Next(&f)
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		case x.started && t <= x.last, t < x.from:
			continue
		case x.to > 0 && t > x.to:
			return nil
		}
		if err := x.out.Write(t, wall, &f); err != nil {
			return writeError{err}
		}
		x.started, x.last = true, t
		x.rep.Rows++
	}
}

// Events returns the alarm transitions of one run in their order. Lines that
// were cut off are reported, and those written twice returned once.
func Events(dir string, boot uint64) ([]Event, Report, error) { return events(osFS{}, dir, boot) }

func events(fsys fileSystem, dir string, boot uint64) (out []Event, rep Report, err error) {
	name := filepath.Join(bootFolder(dir, boot), eventsName)
	text, err := readWhole(fsys, name)
	if errors.Is(err, os.ErrNotExist) {
		if _, err = fsys.ReadDir(bootFolder(dir, boot)); err == nil {
			return nil, rep, nil // a run without alarms
		}
	}
	if err != nil {
		return nil, rep, fmt.Errorf("cannot read the events of run %d: %w", boot, err)
	}
	for n := 1; len(text) > 0; n++ {
		line, rest, whole := bytes.Cut(text, []byte{'\n'})
		text = rest
		if len(line) == 0 {
			continue
		}
		var e Event
		if err := json.Unmarshal(line, &e); err != nil || !whole {
			rep.add(fmt.Sprintf("%s:%d: the line is cut off or damaged", name, n))
			continue
		}
		if !repeated(out, &e) {
			out = append(out, e)
			rep.Rows++
		}
	}
	return out, rep, nil
}

// repeated looks among the last events of the same time.
func repeated(seen []Event, e *Event) bool {
	for i := len(seen) - 1; i >= 0 && seen[i].TNs >= e.TNs; i-- {
		if seen[i].same(e) {
			return true
		}
	}
	return false
}
