// Package service keeps the machine's service book: how long the pump has run,
// how often it was started and taken out, and when each thing was last looked
// after. It is one small file that is replaced as a whole, so that a power cut
// leaves either the old book or the new one. What is due is computed by
// rules/wear; this package only keeps the figures.
package service

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"headroom/daemon/wholefile"
	"headroom/rules/wear"
)

// fileName stands in the record's folder, and beside it what was counted in
// practice.
const (
	fileName     = "service.json"
	practiceName = "service-practice.json"
)

// Book is the machine's life so far.
type Book struct {
	// Counters since the book was begun.
	Counters wear.Counters `json:"counters"`
	// Entries are everything that was done, oldest first.
	Entries []Entry `json:"entries"`
}

// Entry is one thing that somebody looked after.
type Entry struct {
	Task string `json:"task"`
	// At are the counters then, and Wall what the clock said.
	At   wear.Counters `json:"at"`
	Wall time.Time     `json:"wall"`
	Who  string        `json:"who,omitempty"`
	Note string        `json:"note,omitempty"`
}

// Load reads the book in a folder; one that was never begun is empty. A
// damaged book is an error that names the file, and is left as it is.
func Load(folder string) (Book, error) { return load(folder, fileName) }

// LoadPractice reads what a simulator or a recording did in that folder: no
// part of the machine's life.
func LoadPractice(folder string) (Book, error) { return load(folder, practiceName) }

func load(folder, file string) (Book, error) {
	path := filepath.Join(folder, file)
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return Book{}, nil
	}
	if err != nil {
		return Book{}, fmt.Errorf("cannot read the service book: %w", err)
	}
	var b Book
	if err := json.Unmarshal(data, &b); err != nil {
		return Book{}, fmt.Errorf("the service book %s is damaged (%w); mend it or move it away to begin a new one", path, err)
	}
	return b, nil
}

// Save replaces the book in a folder. The new one is on the disk before the
// old one is gone.
func (b *Book) Save(folder string) error { return b.save(folder, fileName) }

func (b *Book) save(folder, file string) error {
	data, err := json.MarshalIndent(b, "", "  ")
	if err != nil {
		return fmt.Errorf("cannot write the service book: %w", err)
	}
	if err := wholefile.Write(filepath.Join(folder, file), append(data, '\n')); err != nil {
		return fmt.Errorf("cannot write the service book: %w", err)
	}
	return nil
}

// Done notes that a task was done now.
func (b *Book) Done(t wear.Task, wall time.Time, who, note string) {
	b.Entries = append(b.Entries, Entry{Task: t.String(), At: b.Counters, Wall: wall, Who: who, Note: note})
}

// Last is when a task was last done.
func (b *Book) Last(t wear.Task) wear.Service {
	for i := len(b.Entries) - 1; i >= 0; i-- {
		if b.Entries[i].Task == t.String() {
			return wear.Service{Done: true, At: b.Entries[i].At}
		}
	}
	return wear.Service{}
}

// Due grades every task by the intervals.
func (b *Book) Due(intervals *[wear.NumTasks]wear.Interval) [wear.NumTasks]wear.Due {
	var last [wear.NumTasks]wear.Service
	for t := range wear.NumTasks {
		last[t] = b.Last(t)
	}
	return wear.AssessAll(intervals, &last, b.Counters, wear.DefaultSoonFrac)
}

// TaskByName returns the task with that name; ok is false for none.
func TaskByName(name string) (t wear.Task, ok bool) {
	for t := range wear.NumTasks {
		if t.String() == name {
			return t, true
		}
	}
	return wear.NumTasks, false
}
