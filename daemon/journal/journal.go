// Package journal keeps what people and outputs did, with time and who, as one
// JSON object a line in a file that only grows. Each line is on the disk
// before the next is begun. It never delays who notes something: notes wait in
// a bounded queue, and what finds no place is counted in the next line.
package journal

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"
)

// FileName stands in the record's folder.
const FileName = "journal.jsonl"

// Entry is one thing that was done.
type Entry struct {
	// Wall is what the clock said and MonoNs the program's own time.
	Wall   time.Time `json:"wall"`
	MonoNs int64     `json:"t_ns"`
	// Who did it: a person's name, or "outputs".
	Who string `json:"who"`
	// What was done, such as "acknowledge", to what, and more where there is
	// more to say.
	What   string `json:"what"`
	To     string `json:"to,omitempty"`
	Detail string `json:"detail,omitempty"`
	// Lost counts notes before this one that found no place.
	Lost uint64 `json:"lost_before,omitempty"`
}

// Journal is open for one run of the program.
type Journal struct {
	path  string
	log   *slog.Logger
	queue chan Entry
	lost  atomic.Uint64
}

// places is more than people can do while a disk hangs.
const places = 256

// New makes the journal of a folder; nothing is opened before Run.
func New(folder string, log *slog.Logger) *Journal {
	return &Journal{path: filepath.Join(folder, FileName), log: log, queue: make(chan Entry, places)}
}

// Add notes an entry. It never blocks; safe for use by many goroutines.
func (j *Journal) Add(e Entry) {
	select {
	case j.queue <- e:
	default:
		j.lost.Add(1)
	}
}

// Run writes what is noted until ctx ends, and then what is left.
func (j *Journal) Run(ctx context.Context) {
	for {
		select {
		case e := <-j.queue:
			j.write(e)
			continue
		case <-ctx.Done():
		}
		for {
			select {
			case e := <-j.queue:
				j.write(e)
			default:
				return
			}
		}
	}
}

func (j *Journal) write(e Entry) {
	e.Lost = j.lost.Swap(0)
	line, err := json.Marshal(e)
	if err == nil {
		err = appendLine(j.path, append(line, '\n'))
	}
	if err != nil {
		j.lost.Add(e.Lost + 1)
		j.log.Warn("a note could not be written", "what", e.What, "to", e.To, "who", e.Who, "error", err)
	}
}

// appendLine opens, appends and syncs. People do little, so that the file need
// not stay open, and a folder that comes back is found again.
func appendLine(path string, line []byte) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_APPEND|os.O_RDWR, 0o644)
	if err != nil {
		return err
	}
	if torn(f) {
		line = append([]byte{'\n'}, line...)
	}
	_, err = f.Write(line)
	return errors.Join(err, f.Sync(), f.Close())
}

// torn reports a last line that a power cut left without its end: the next
// must not be glued to it.
func torn(f *os.File) bool {
	end, err := f.Seek(0, 2)
	if err != nil || end == 0 {
		return false
	}
	last := make([]byte, 1)
	_, err = f.ReadAt(last, end-1)
	return err == nil && last[0] != '\n'
}

// Read returns the entries of a folder, oldest first, and how many lines could
// not be read. A folder without a journal has none.
func Read(folder string) (entries []Entry, damaged int, err error) {
	f, err := os.Open(filepath.Join(folder, FileName))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, 0, nil
	}
	if err != nil {
		return nil, 0, fmt.Errorf("cannot read the journal: %w", err)
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	for lines.Scan() {
		var e Entry
		if len(lines.Bytes()) == 0 {
			continue
		}
		if json.Unmarshal(lines.Bytes(), &e) != nil {
			damaged++
			continue
		}
		entries = append(entries, e)
	}
	if err := lines.Err(); err != nil {
		return entries, damaged, fmt.Errorf("cannot read all of the journal: %w", err)
	}
	return entries, damaged, nil
}
