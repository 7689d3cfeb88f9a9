package record

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

// Run is one run in the list of what is recorded.
type Run struct {
	Info
	// Segments and Bytes of its frames.
	Segments int
	Bytes    int64
	// From and To are the monotonic times of the first and the last frame that
	// is left, FromWall and ToWall what the clock said then; valid when HasFrames.
	From, To         time.Duration
	FromWall, ToWall time.Time
	HasFrames        bool
	// Problem says in words what of the run can't be read; empty when nothing.
	Problem string
}

// List returns the runs in dir, oldest first. It reads the ends of each run
// only, so it is quick with any amount of history.
func List(dir string) ([]Run, error) { return list(osFS{}, dir) }

func list(fsys fileSystem, dir string) ([]Run, error) {
	all, err := boots(fsys, dir)
	if err != nil {
		return nil, fmt.Errorf("cannot list the record: %w", err)
	}
	out := make([]Run, 0, len(all))
	for _, b := range all {
		run := Run{Info: Info{Boot: b}}
		if err := run.look(fsys, bootFolder(dir, b)); err != nil {
			run.Problem = err.Error()
		}
		out = append(out, run)
	}
	return out, nil
}

func (r *Run) look(fsys fileSystem, folder string) error {
	boot := r.Boot
	text, err := readWhole(fsys, filepath.Join(folder, bootInfoName))
	if err == nil {
		err = json.Unmarshal(text, &r.Info)
	}
	r.Boot = boot // the folder's name counts
	all, segErr := segments(fsys, folder)
	if segErr != nil {
		return errors.Join(err, segErr)
	}
	r.Segments = len(all)
	for _, n := range all {
		err = errors.Join(err, r.open(fsys, filepath.Join(folder, segmentName(n)), r.weigh))
	}
	return errors.Join(err, r.ends(fsys, folder, all))
}

// ends finds the first row from the front and the last one from the back. A
// segment without a row is passed over, but told of.
func (r *Run) ends(fsys fileSystem, folder string, all []uint64) (err error) {
	for _, n := range all {
		e := r.open(fsys, filepath.Join(folder, segmentName(n)), r.firstRow)
		if e == nil {
			break
		}
		err = errors.Join(err, e)
	}
	if !r.HasFrames {
		return err
	}
	for _, n := range slices.Backward(all) {
		e := r.open(fsys, filepath.Join(folder, segmentName(n)), r.lastRow)
		if e == nil {
			break
		}
		err = errors.Join(err, e)
	}
	return err
}

func (r *Run) open(fsys fileSystem, name string, use func(f file, name string) error) error {
	f, err := fsys.OpenFile(name, os.O_RDONLY, 0)
	if err != nil {
		return err
	}
	defer f.Close() // only read from: closing can lose nothing
	return use(f, name)
}

func (r *Run) weigh(f file, name string) error {
	size, err := f.Seek(0, io.SeekEnd)
	if err != nil {
		return fmt.Errorf("cannot find the size of %s: %w", name, err)
	}
	r.Bytes += size
	return nil
}

func (r *Run) firstRow(f file, name string) error {
	rd, err := csvfile.NewReader(f, name, csvfile.Map{}, csvfile.Options{})
	if err != nil {
		return err
	}
	var fr frame.Frame
	t, wall, err := rd.Next(&fr)
	if err != nil {
		return fmt.Errorf("%s holds no whole row", name)
	}
	r.HasFrames = true
	r.From, r.FromWall = t, wall
	return nil
}

// tailBytes is more than a hundred rows.
const tailBytes = 64 << 10

// lastRow reads the head and the tail of a segment.
func (r *Run) lastRow(f file, name string) error {
	size, err := f.Seek(0, io.SeekEnd)
	if err != nil {
		return fmt.Errorf("cannot find the size of %s: %w", name, err)
	}
	head, err := headOf(f)
	if err != nil {
		return fmt.Errorf("cannot read the head of %s: %w", name, err)
	}
	from := max(int64(len(head)), size-tailBytes)
	if _, err := f.Seek(from, io.SeekStart); err != nil {
		return fmt.Errorf("cannot find the tail of %s: %w", name, err)
	}
	tail := bufio.NewReaderSize(f, tailBytes)
	if from > int64(len(head)) { // the first line is cut through
		if _, err := tail.ReadSlice('\n'); err != nil {
			return fmt.Errorf("cannot find a row in the tail of %s: %w", name, err)
		}
	}
	rd, err := csvfile.NewReader(io.MultiReader(bytes.NewReader(head), tail), name, csvfile.Map{}, csvfile.Options{})
	if err != nil {
		return err
	}
	var fr frame.Frame
	for {
		t, wall, err := rd.Next(&fr)
		switch {
		case err == nil:
			r.To, r.ToWall = t, wall
		case rd.Stats().Rows == 0:
			return fmt.Errorf("%s holds no whole row at its end", name)
		case errors.Is(err, io.EOF):
			return nil
		default:
			return err
		}
	}
}

// headOf returns a segment's head, up to and with its header line.
func headOf(f file) ([]byte, error) {
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	in := bufio.NewReader(f)
	var head []byte
	for {
		line, err := in.ReadSlice('\n')
		head = append(head, line...)
		if err != nil {
			return nil, err
		}
		if line[0] != '#' {
			return head, nil
		}
	}
}
