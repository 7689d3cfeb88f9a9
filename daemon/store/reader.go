package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"headroom/daemon/store/tail"
)

// Reader looks into a record without changing it, while another program
// records into it or after that was cut off. It sees what was safe when it was
// opened.
type Reader struct{ view }

// OpenReader opens the record in dir for reading.
func OpenReader(dir string) (*Reader, error) {
	path := filepath.Join(dir, databaseName)
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("cannot read the record in %s: %w", dir, err)
	}
	// The tail is read first: what moves on meanwhile is found twice, and told
	// apart by its number.
	left, err := readTail(filepath.Join(dir, tailName))
	if err != nil {
		return nil, err
	}
	db, err := openDatabase(path, true)
	if err != nil {
		return nil, err
	}
	r := &Reader{view{db: db}}
	for i := range left {
		r.boot = max(r.boot, left[i].Boot)
	}
	for i := range left {
		if left[i].Boot == r.boot {
			r.addPending(pending{seq: left[i].Seq, payload: left[i].Payload}, time.Duration(0))
		}
	}
	s, err := r.snapshot(context.Background())
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	s.end()
	return r, nil
}

// Close closes the reader.
func (r *Reader) Close() error { return r.db.Close() }

// readTail reads the file of the last minutes, in a copy of its content.
func readTail(path string) ([]tail.Record, error) {
	content, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("cannot read the file of the last minutes: %w", err)
	}
	f := &copied{content}
	_, left, err := tail.Open(func(string, int64) (tail.File, error) { return f, nil }, path, 0, 0)
	return left, err
}

// copied is a file's content; it is never written to.
type copied struct{ content []byte }

func (c *copied) ReadAt(b []byte, at int64) (int, error) {
	n := copy(b, c.content[min(at, int64(len(c.content))):])
	if n < len(b) {
		return n, io.EOF
	}
	return n, nil
}

func (c *copied) WriteAt([]byte, int64) (int, error) { return 0, os.ErrPermission }
func (c *copied) Sync() error                        { return nil }
func (c *copied) Close() error                       { return nil }
func (c *copied) Bytes() int64                       { return int64(len(c.content)) }
func (c *copied) Unit() int64                        { return 4096 }
