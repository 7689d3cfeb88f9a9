package tail

import (
	"errors"
	"fmt"
	"io"
	"unsafe"
)

// ErrFull is the error of Append when only records that are not released
// could be written over.
var ErrFull = errors.New("the file of the last minutes is full: what is in it could not be moved to the database")

// Ring is an open tail. It is for one goroutine at a time.
type Ring struct {
	f    File
	seq  uint64
	next int64
	kept []place
	room []byte
	// Torn counts records that Open found not whole.
	Torn int
}

// place is where a record that is not released lies.
type place struct {
	span
	seq uint64
}

// Open opens a tail and returns its records that are newer than released. The
// numbers of new records go on after both.
func Open(open Opener, path string, bytes int64, released uint64) (*Ring, []Record, error) {
	f, err := open(path, bytes)
	if err != nil {
		return nil, nil, err
	}
	r := &Ring{f: f, seq: released}
	all, err := r.load(released)
	if err != nil {
		_ = f.Close() // the first error tells more
		return nil, nil, fmt.Errorf("cannot read the file of the last minutes: %w", err)
	}
	return r, all, nil
}

// load finds the records and the place after the last of them.
func (r *Ring) load(released uint64) ([]Record, error) {
	if r.f.Bytes() < 2*largest {
		return nil, fmt.Errorf("it has only %d bytes: delete it to have it made anew", r.f.Bytes())
	}
	content, err := readAll(r.f)
	if err != nil {
		return nil, err
	}
	all, torn := find(content)
	r.Torn = torn
	if n := len(all); n > 0 {
		r.seq = max(r.seq, all[n-1].Seq)
		r.next = roundUp(all[n-1].place.to, r.f.Unit())
	}
	for len(all) > 0 && all[0].Seq <= released {
		all = all[1:]
	}
	for i := range all {
		r.kept = append(r.kept, place{all[i].place, all[i].Seq})
	}
	return all, nil
}

// readAll reads in pieces that are aligned as direct reading wants it.
func readAll(f File) ([]byte, error) {
	content := make([]byte, 0, f.Bytes())
	piece := aligned(1 << 16)
	for at := int64(0); at < f.Bytes(); {
		n, err := f.ReadAt(piece[:min(int64(len(piece)), f.Bytes()-at)], at)
		if err != nil && (!errors.Is(err, io.EOF) || n == 0) {
			return nil, err
		}
		content = append(content, piece[:n]...)
		at += int64(n)
	}
	return content, nil
}

// Append writes a record and returns when it is safe. After an error nothing
// is known of the record, and the next one goes to another place under another
// number, so that a bad sector is stepped over.
func (r *Ring) Append(boot uint64, payload []byte) (seq uint64, err error) {
	if len(payload) > maxPayload {
		return 0, fmt.Errorf("cannot keep a record of %d bytes: at most %d are possible", len(payload), maxPayload)
	}
	n := roundUp(headBytes+int64(len(payload)), r.f.Unit())
	at, ok := r.free(n)
	if !ok {
		return 0, ErrFull
	}
	if int64(len(r.room)) < n {
		r.room = aligned(max(n, 8*largest))
	}
	r.seq++
	put(r.room[:n], r.seq, boot, at, payload)
	r.next = at + n
	if err := r.write(r.room[:n], at); err != nil {
		return 0, fmt.Errorf("cannot write the last second: %w", err)
	}
	r.kept = append(r.kept, place{span{at, at + n}, r.seq})
	return r.seq, nil
}

func (r *Ring) write(b []byte, at int64) error {
	n, err := r.f.WriteAt(b, at)
	if err == nil && n < len(b) {
		err = io.ErrShortWrite
	}
	if err != nil {
		return err
	}
	return r.f.Sync()
}

// free finds the next place for n bytes.
func (r *Ring) free(n int64) (at int64, ok bool) {
	at = r.next
	if at+n > r.f.Bytes() {
		at = 0
	}
	want := span{at, at + n}
	if want.to > r.f.Bytes() {
		return 0, false
	}
	for i := range r.kept {
		if r.kept[i].meets(want) {
			return 0, false
		}
	}
	return at, true
}

// Release gives the room of all records up to seq free: they are safe
// elsewhere.
func (r *Ring) Release(seq uint64) {
	n := 0
	for n < len(r.kept) && r.kept[n].seq <= seq {
		n++
	}
	r.kept = append(r.kept[:0], r.kept[n:]...)
}

// Share is how much of the file is taken by records that are not released, 0
// to 1.
func (r *Ring) Share() float64 {
	taken := int64(0)
	for i := range r.kept {
		taken += r.kept[i].to - r.kept[i].from
	}
	return float64(taken) / float64(r.f.Bytes())
}

// Skip lets the numbers go on after seq, should they not be there yet.
func (r *Ring) Skip(seq uint64) { r.seq = max(r.seq, seq) }

// Seq is the number of the last record.
func (r *Ring) Seq() uint64 { return r.seq }

// Close closes the file; all that Append returned for is safe already.
func (r *Ring) Close() error { return r.f.Close() }

// aligned makes memory that begins at a multiple of the largest unit.
func aligned(n int64) []byte {
	b := make([]byte, n+largest)
	over := int64(uintptr(unsafe.Pointer(&b[0])) % largest)
	return b[(largest-over)%largest:][:n:n]
}
