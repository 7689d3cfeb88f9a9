package nbd

import (
	"errors"
	"math/rand/v2"
	"sync"
)

// SectorBytes is what a disk writes whole or not at all.
const SectorBytes = 512

// Errors as a client sees them, by NBD's own numbers.
var (
	// ErrIO is a failed write or flush (EIO).
	ErrIO = errors.New("input or output error")
	// ErrNoSpace is a write to a thin disk that is full (ENOSPC).
	ErrNoSpace = errors.New("no space left on the disk")
	// ErrRange is a request beyond the disk's end (EINVAL).
	ErrRange = errors.New("beyond the end of the disk")
	// ErrOff is a request after the cut; the connection just closes.
	ErrOff = errors.New("the disk has no power")
)

// Faults say when the disk misbehaves. Counts are of requests since it was
// made, from 1; 0 means never.
type Faults struct {
	// CutAtWrite and CutAtFlush cut the power when that request arrives: the
	// write is then one of those that may be lost in part, and the flush has
	// done nothing.
	CutAtWrite, CutAtFlush int
	// FailWrite and FailFlush give ErrIO from that request on, for as many
	// requests as FailFor says, or for ever when it is 0.
	FailWrite, FailFlush, FailFor int
	// FullAtWrite gives ErrNoSpace from that write on, until Resize-like help
	// comes with SetFaults.
	FullAtWrite int
	// IgnoreFlush makes flushes and forced writes succeed and do nothing, as a
	// disk that lies. It is for controls.
	IgnoreFlush bool
}

// pending is a write that no flush has followed.
type pending struct {
	offset int64
	data   []byte
}

// Disk is a disk with a volatile write cache. It is safe for several users.
type Disk struct {
	mu      sync.Mutex
	current []byte // what a read returns
	durable []byte // what a flush has made safe
	cache   []pending
	faults  Faults
	random  *rand.Rand
	writes  int
	flushes int
	work    int
	camera  camera
	after   *Outcome
	off     chan struct{}
}

// Outcome is what a cut left.
type Outcome struct {
	// Image is the disk's content after the cut.
	Image []byte
	// Kept and Lost count sectors of unflushed writes; Torn are those among
	// the lost of which the first part was written.
	Kept, Lost, Torn int
	// Writes and Flushes count the requests until the cut.
	Writes, Flushes int
}

// NewDisk makes a disk with that content, which it copies. seed decides which
// unflushed sectors a cut loses.
func NewDisk(image []byte, seed uint64, f Faults) *Disk {
	return &Disk{
		current: append([]byte(nil), image...),
		durable: append([]byte(nil), image...),
		faults:  f,
		random:  rand.New(rand.NewPCG(seed, seed)),
		off:     make(chan struct{}),
	}
}

// SetFaults changes the faults; counts go on.
func (d *Disk) SetFaults(f Faults) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.faults = f
}

// Counts returns how many writes and flushes came so far.
func (d *Disk) Counts() (writes, flushes int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.writes, d.flushes
}

// Off is closed when the power was cut.
func (d *Disk) Off() <-chan struct{} { return d.off }

// Size returns the disk's size in bytes.
func (d *Disk) Size() int64 { return int64(len(d.current)) }

// Read fills b from offset, from the cache where that is newer.
func (d *Disk) Read(b []byte, offset int64) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.check(len(b), offset); err != nil {
		return err
	}
	copy(b, d.current[offset:])
	return nil
}

// Write stores b at offset in the cache; forced (FUA) makes this write, though
// not those before it, durable. It keeps b.
func (d *Disk) Write(b []byte, offset int64, forced bool) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.check(len(b), offset); err != nil {
		return err
	}
	d.writes++
	f := d.faults
	switch {
	case f.FullAtWrite > 0 && d.writes >= f.FullAtWrite:
		return ErrNoSpace
	case f.failing(f.FailWrite, d.writes):
		return ErrIO
	}
	copy(d.current[offset:], b)
	d.cache = append(d.cache, pending{offset, b})
	d.worked((len(b) + SectorBytes - 1) / SectorBytes)
	if d.writes == f.CutAtWrite {
		d.cut()
		return ErrOff
	}
	if forced && !f.IgnoreFlush {
		d.force()
	}
	return nil
}

// Flush makes all writes before it durable.
func (d *Disk) Flush() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.after != nil {
		return ErrOff
	}
	d.flushes++
	d.worked(1)
	f := d.faults
	switch {
	case f.failing(f.FailFlush, d.flushes):
		return ErrIO
	case d.flushes == f.CutAtFlush:
		d.cut()
		return ErrOff
	case f.IgnoreFlush:
		return nil
	}
	for _, p := range d.cache {
		copy(d.durable[p.offset:], p.data)
	}
	d.cache = nil
	return nil
}

// Cut cuts the power now, if it wasn't cut before, and returns what is left.
func (d *Disk) Cut() Outcome {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.cut()
	return *d.after
}

func (f Faults) failing(from, now int) bool {
	return from > 0 && now >= from && (f.FailFor == 0 || now < from+f.FailFor)
}

func (d *Disk) check(length int, offset int64) error {
	switch {
	case d.after != nil:
		return ErrOff
	case offset < 0 || offset > d.Size()-int64(length):
		return ErrRange
	}
	return nil
}

// force makes the last write durable and leaves the others in the cache. A
// later loss of an older write over the same place must not undo it, so the
// older ones are cut back there.
func (d *Disk) force() {
	last := d.cache[len(d.cache)-1]
	copy(d.durable[last.offset:], last.data)
	var rest []pending
	for _, p := range d.cache[:len(d.cache)-1] {
		rest = append(rest, p.without(last.offset, last.offset+int64(len(last.data)))...)
	}
	d.cache = rest
}

// without returns the parts of p outside from to to.
func (p pending) without(from, to int64) []pending {
	end := p.offset + int64(len(p.data))
	if to <= p.offset || from >= end {
		return []pending{p}
	}
	var parts []pending
	if from > p.offset {
		parts = append(parts, pending{p.offset, p.data[:from-p.offset]})
	}
	if to < end {
		parts = append(parts, pending{to, p.data[to-p.offset:]})
	}
	return parts
}

func (d *Disk) cut() {
	if d.after != nil {
		return
	}
	o := d.leave(d.durable)
	d.cache, d.after = nil, &o
	close(d.off)
}
