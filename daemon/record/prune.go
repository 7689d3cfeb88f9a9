package record

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// item is a segment that may be deleted, or, with segment 0, the other files of
// an ended run: its events outlive its frames.
type item struct {
	boot, segment uint64
	bytes         int64
}

// stock knows what is on disk without asking the disk.
type stock struct {
	// items are the ended segments, oldest first; rest the other files of
	// earlier runs, oldest first.
	items, rest []item
	// ended is the sum of both, current what this run has besides.
	ended, current int64
}

func (s *stock) total() int64 { return s.ended + s.current }

func (s *stock) add(i item) {
	s.items = append(s.items, i)
	s.ended += i.bytes
}

// take counts what earlier runs have left, and what this one has by now.
func (s *stock) take(fsys fileSystem, dir string, now uint64) error {
	all, err := boots(fsys, dir)
	if err != nil {
		return fmt.Errorf("cannot count what is recorded: %w", err)
	}
	for _, b := range all {
		entries, err := fsys.ReadDir(bootFolder(dir, b))
		if err != nil {
			continue // an old run that can't be read must not stop a new one
		}
		rest := item{boot: b}
		for _, e := range entries {
			info, err := e.Info()
			if err != nil {
				continue // gone in the meantime
			}
			if n, ok := numberIn(e.Name(), segmentPrefix, segmentSuffix); ok {
				s.add(item{boot: b, segment: n, bytes: info.Size()})
			} else {
				rest.bytes += info.Size()
			}
		}
		if b == now {
			s.current = rest.bytes
			continue
		}
		s.rest = append(s.rest, rest)
		s.ended += rest.bytes
	}
	slices.SortFunc(s.items, func(a, b item) int {
		return cmp.Or(cmp.Compare(a.boot, b.boot), cmp.Compare(a.segment, b.segment))
	})
	return nil
}

// Deletion is one line of deletions.jsonl.
type Deletion struct {
	// Boot is the run that deleted, Wall what its clock said.
	Boot uint64    `json:"boot"`
	Wall time.Time `json:"wall"`
	// File inside the record's folder, or the folder of a whole run.
	File  string `json:"file"`
	Bytes int64  `json:"bytes"`
	Why   string `json:"why"`
}

// prune deletes the oldest until the record is within its size. That it may
// not be able to note the deletion does not keep it from making room.
func (r *Recorder) prune() error {
	var errs []error
	for r.stock.total() > r.opts.MaxBytes {
		i, ok := r.stock.oldest()
		if !ok {
			break
		}
		errs = append(errs, r.note(i), r.remove(i))
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("cannot keep the record within %d bytes: %w", r.opts.MaxBytes, err)
	}
	return nil
}

// oldest takes the next thing to delete off the stock: first all frames, and
// only when none are left the events of the oldest run. What can't be deleted
// is not tried again in this run.
func (s *stock) oldest() (i item, ok bool) {
	list := &s.items
	if len(*list) == 0 {
		list = &s.rest
	}
	if len(*list) == 0 {
		return item{}, false
	}
	i = (*list)[0]
	*list = (*list)[1:]
	s.ended -= i.bytes
	return i, true
}

func (i *item) path(dir string) string {
	folder := bootFolder(dir, i.boot)
	if i.segment == 0 {
		return folder
	}
	return filepath.Join(folder, segmentName(i.segment))
}

func (r *Recorder) remove(i item) error {
	if i.segment > 0 {
		return ignoreGone(r.fsys.Remove(i.path(r.dir)))
	}
	folder := i.path(r.dir)
	entries, err := r.fsys.ReadDir(folder)
	if err != nil {
		return ignoreGone(err)
	}
	for _, e := range entries {
		if err := ignoreGone(r.fsys.Remove(filepath.Join(folder, e.Name()))); err != nil {
			return err
		}
	}
	return ignoreGone(r.fsys.Remove(folder))
}

func ignoreGone(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// maxDeletions bounds deletions.jsonl: beyond it the file is set aside and the
// one set aside before is gone.
const maxDeletions = 1 << 20

// note writes down a deletion before it is made.
func (r *Recorder) note(i item) error {
	file, err := filepath.Rel(r.dir, i.path(r.dir))
	if err != nil {
		return err
	}
	line, err := json.Marshal(Deletion{
		Boot: r.opts.Info.Boot, Wall: jsonWall(r.lastWall), File: filepath.ToSlash(file), Bytes: i.bytes,
		Why: fmt.Sprintf("the record was larger than %d bytes", r.opts.MaxBytes),
	})
	if err != nil {
		return err
	}
	name := filepath.Join(r.dir, deletionsName)
	f, err := r.fsys.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_APPEND, filePerm)
	if err != nil {
		return err
	}
	size, err := f.Seek(0, io.SeekEnd)
	if err != nil {
		size = 0
	}
	if err := finish(f, append(line, '\n')); err != nil {
		return err
	}
	if size > maxDeletions {
		return r.fsys.Rename(name, name+".old")
	}
	return nil
}
