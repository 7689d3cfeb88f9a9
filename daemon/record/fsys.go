package record

import (
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// fileSystem is as much of a file system as a recorder needs, so that tests
// can fill the disk, break it and cut its power.
type fileSystem interface {
	OpenFile(name string, flag int, perm fs.FileMode) (file, error)
	ReadDir(name string) ([]fs.DirEntry, error)
	Mkdir(name string, perm fs.FileMode) error
	Rename(from, to string) error
	Remove(name string) error
	// SyncDir makes safe which names are in the folder.
	SyncDir(name string) error
}

// file is an open file.
type file interface {
	io.Reader
	io.Writer
	io.Seeker
	io.Closer
	Sync() error
}

// osFS is the real one.
type osFS struct{}

func (osFS) OpenFile(name string, flag int, perm fs.FileMode) (file, error) {
	f, err := os.OpenFile(name, flag, perm)
	if err != nil {
		return nil, err // not f: a nil *os.File in an interface isn't nil
	}
	return f, nil
}

func (osFS) ReadDir(name string) ([]fs.DirEntry, error) { return os.ReadDir(name) }
func (osFS) Mkdir(name string, perm fs.FileMode) error  { return os.MkdirAll(name, perm) }
func (osFS) Rename(from, to string) error               { return os.Rename(from, to) }
func (osFS) Remove(name string) error                   { return os.Remove(name) }

func (osFS) SyncDir(name string) error {
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

const (
	filePerm   = 0o644
	folderPerm = 0o755
)

// replaceFile puts data in place of a file so that after a power cut either
// the old or the new content is there, whole.
func replaceFile(fsys fileSystem, name string, data []byte) error {
	temp := name + ".tmp"
	if err := writeWhole(fsys, temp, data); err != nil {
		_ = fsys.Remove(temp) // it may not even exist
		return fmt.Errorf("cannot write %s: %w", name, err)
	}
	if err := fsys.Rename(temp, name); err != nil {
		return fmt.Errorf("cannot write %s: %w", name, err)
	}
	if err := fsys.SyncDir(filepath.Dir(name)); err != nil {
		return fmt.Errorf("cannot make %s safe: %w", name, err)
	}
	return nil
}

func writeWhole(fsys fileSystem, name string, data []byte) error {
	f, err := fsys.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, filePerm)
	if err != nil {
		return err
	}
	return finish(f, data)
}

// finish writes, syncs and closes, and returns the first error.
func finish(f file, data []byte) error {
	err := writeSync(f, data)
	if e := f.Close(); err == nil {
		err = e
	}
	return err
}

func writeSync(f file, data []byte) error {
	n, err := f.Write(data)
	if err == nil && n < len(data) {
		err = io.ErrShortWrite
	}
	if err == nil {
		err = f.Sync()
	}
	return err
}

func readWhole(fsys fileSystem, name string) ([]byte, error) {
	f, err := fsys.OpenFile(name, os.O_RDONLY, 0)
	if err != nil {
		return nil, err
	}
	defer f.Close() // only read from: closing can lose nothing
	return io.ReadAll(f)
}
