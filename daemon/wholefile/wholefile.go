// Package wholefile replaces a small file as a whole, so that a power cut
// leaves the old one or the new one and nothing between. It owns that one
// habit; what stands in the file is its callers' business.
package wholefile

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Write puts data in the place of the file at path and makes its folder where
// there is none. When it returns without an error the new file is on the disk;
// with one, the old file is as it was.
func Write(path string, data []byte) error { return write(path, data, 0o644) }

// WriteSecret does the same for what nobody else on the machine may read. Where
// root writes it, as with a command under sudo, it belongs to the folder's
// owner, so that the daemon can read it under its own user.
func WriteSecret(path string, data []byte) error { return write(path, data, 0o600) }

func write(path string, data []byte, mode os.FileMode) error {
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("cannot make the folder: %w", err)
	}
	f, err := os.CreateTemp(dir, filepath.Base(path)+".*")
	if err != nil {
		return fmt.Errorf("cannot begin the new file: %w", err)
	}
	_, err = f.Write(data)
	if err := errors.Join(err, f.Chmod(mode), giveToOwner(f, dir), f.Sync(), f.Close()); err != nil {
		return errors.Join(fmt.Errorf("cannot write the new file: %w", err), os.Remove(f.Name()))
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return errors.Join(fmt.Errorf("cannot put the new file in place: %w", err), os.Remove(f.Name()))
	}
	return syncDir(dir)
}

// syncDir makes the renaming itself safe.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("cannot sync the folder: %w", err)
	}
	if err := errors.Join(d.Sync(), d.Close()); err != nil {
		return fmt.Errorf("cannot sync the folder: %w", err)
	}
	return nil
}
