package service

import (
	"time"

	"headroom/rules/wear"
)

// saveEvery is how much running time a power cut may cost the book, and so how
// often it is written: a thousandth of the shortest interval.
const saveEvery = 3 * time.Minute

// Meter adds running time and starts to the book in a folder as the machine
// works. It is for the one goroutine that follows the ticks; Save may take as
// long as the disk does, so it isn't called from the tick itself.
type Meter struct {
	folder string
	file   string
	book   Book
	was    bool
	used   bool
	last   time.Duration
	begun  bool
	saved  time.Duration
	dirty  bool
}

// NewMeter reads the book in a folder.
func NewMeter(folder string) (*Meter, error) { return newMeter(folder, fileName) }

// NewPracticeMeter counts what a simulator or a recording does, beside the book
// of the machine and never in it.
func NewPracticeMeter(folder string) (*Meter, error) { return newMeter(folder, practiceName) }

func newMeter(folder, file string) (*Meter, error) {
	b, err := load(folder, file)
	if err != nil {
		return nil, err
	}
	return &Meter{folder: folder, file: file, book: b}, nil
}

// Book returns the book as it stands.
func (m *Meter) Book() Book { return m.book }

// Follow counts up to the monotonic time t, at which the pump turns or not.
// The first turning since the program's start counts as a use. It reports
// whether the book should be saved now.
func (m *Meter) Follow(t time.Duration, turning bool) (save bool) {
	if !m.begun {
		m.begun, m.last, m.saved, m.was = true, t, t, turning
		return false
	}
	dt := (t - m.last).Seconds()
	m.last = t
	if turning && !m.used {
		m.used = true
		m.book.Counters.Uses++
	}
	next, ok := m.book.Counters.Advance(m.was, turning, dt)
	if ok && next != m.book.Counters {
		m.book.Counters, m.dirty = next, true
	}
	stopped := m.was && !turning
	m.was = turning
	return m.dirty && (stopped || t-m.saved >= saveEvery)
}

// Save writes the book. Entries that another program added meanwhile, as the
// service command does, are kept.
func (m *Meter) Save() error {
	if disk, err := load(m.folder, m.file); err == nil && len(disk.Entries) > len(m.book.Entries) {
		m.book.Entries = disk.Entries
	}
	m.saved, m.dirty = m.last, false
	return m.book.save(m.folder, m.file)
}

// Turned is what the meter counted, for tests and summaries.
func (m *Meter) Turned() wear.Counters { return m.book.Counters }
