package tail

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// File is as much of a file as the tail needs, so that tests can fill the
// disk, break it and cut its power.
type File interface {
	io.ReaderAt
	// WriteAt is given whole units at multiples of a unit, in memory that is
	// aligned likewise.
	io.WriterAt
	// Sync makes the data safe; metadata but for the size needn't be.
	Sync() error
	Close() error
	// Bytes is the size, Unit the smallest write: 512 or 4096.
	Bytes() int64
	Unit() int64
}

// Opener is how a tail's file is opened; it is made, of bytes zeros, where there
// is none.
type Opener func(path string, bytes int64) (File, error)

// OpenFile is the Opener of real files. It writes past the page cache where
// the file system lets it, in sectors of 512 bytes if possible.
func OpenFile(path string, bytes int64) (File, error) {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		if err = create(path, bytes); err == nil {
			info, err = os.Stat(path)
		}
	}
	if err != nil {
		return nil, fmt.Errorf("cannot make the file of the last minutes: %w", err)
	}
	f, unit, err := openDirect(path)
	if err != nil {
		return nil, fmt.Errorf("cannot open the file of the last minutes: %w", err)
	}
	return &osFile{File: f, bytes: info.Size() / largest * largest, unit: unit}, nil
}

// largest unit there is; files are a multiple of it.
const largest = 4096

type osFile struct {
	*os.File
	bytes, unit int64
}

func (f *osFile) Bytes() int64 { return f.bytes }
func (f *osFile) Unit() int64  { return f.unit }
func (f *osFile) Sync() error  { return syncData(f.File) }

// create makes a file of zeros under another name first, so that a power cut
// leaves either none or a whole one.
func create(path string, bytes int64) (err error) {
	temp := path + ".tmp"
	f, err := os.Create(temp)
	if err != nil {
		return err
	}
	zeros := make([]byte, 1<<16)
	for left := roundUp(bytes, largest); left > 0 && err == nil; left -= int64(len(zeros)) {
		_, err = f.Write(zeros[:min(left, int64(len(zeros)))])
	}
	if err == nil {
		err = f.Sync()
	}
	if e := f.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(temp, path)
	}
	if err != nil {
		_ = os.Remove(temp) // the first error tells more
		return err
	}
	return syncFolder(filepath.Dir(path))
}

func syncFolder(name string) error {
	d, err := os.Open(name)
	if err != nil {
		return err
	}
	err = d.Sync()
	if e := d.Close(); err == nil {
		err = e
	}
	return err
}
