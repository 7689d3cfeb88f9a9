//go:build unix

package app

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"
)

// lockFile is held while a program keeps the record of a folder.
const lockFile = "in-use"

// InUse reports whether a program keeps the record in a folder now. Where that
// can't be told, it says yes: nothing is taken for ended that may go on.
func InUse(folder string) bool {
	f, err := os.Open(filepath.Join(folder, lockFile))
	if err != nil {
		return !errors.Is(err, os.ErrNotExist)
	}
	defer f.Close() // gives the lock back
	return syscall.Flock(int(f.Fd()), syscall.LOCK_SH|syscall.LOCK_NB) != nil
}

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
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	for tries := 0; err != nil && tries < 3; tries++ { // who only asks, as InUse, holds it for a moment
		time.Sleep(20 * time.Millisecond)
		err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	}
	if err != nil {
		err = fmt.Errorf("the record in %s is in use by another headroom; name another folder with -record, or stop the other", a.opt.Folder)
		return errors.Join(err, f.Close())
	}
	a.lock = f
	return nil
}
