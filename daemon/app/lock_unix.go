//go:build unix

package app

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
)

// lockFile is held while a program keeps the record of a folder.
const lockFile = "in-use"

// lockFolder makes sure that no other program keeps the same record: two would
// delete each other's segments and overwrite the service book. The kernel
// gives the lock back when the process ends, however it ends. A folder that
// can't be written is not locked, and the record itself then says so.
func (a *App) lockFolder() error {
	if err := os.MkdirAll(a.opt.Folder, 0o755); err != nil {
		return nil // told by the record, which tries again
	}
	f, err := os.OpenFile(filepath.Join(a.opt.Folder, lockFile), os.O_CREATE|os.O_RDWR, 0o644)
	if err != nil {
		return nil // as above
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		err = fmt.Errorf("the record in %s is in use by another headroom; name another folder with -record, or stop the other", a.opt.Folder)
		return errors.Join(err, f.Close())
	}
	a.lock = f
	return nil
}
