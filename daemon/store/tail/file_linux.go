package tail

import (
	"errors"
	"os"
	"syscall"
)

// openDirect opens the file past the page cache, and finds the smallest unit
// that is taken. Where that is refused, as on a file system in memory, it is
// opened in the ordinary way.
func openDirect(path string) (f *os.File, unit int64, err error) {
	f, err = os.OpenFile(path, os.O_RDWR|syscall.O_DIRECT, 0)
	if err == nil {
		for _, unit = range [...]int64{sector, largest} {
			if _, err = f.ReadAt(aligned(unit), 0); err == nil {
				return f, unit, nil
			}
		}
		_ = f.Close() // nothing was written
	}
	if !errors.Is(err, syscall.EINVAL) {
		return nil, 0, err
	}
	f, err = os.OpenFile(path, os.O_RDWR, 0)
	return f, sector, err
}

// syncData is fdatasync: the time of change may be lost, the data not.
func syncData(f *os.File) error {
	for {
		if err := syscall.Fdatasync(int(f.Fd())); !errors.Is(err, syscall.EINTR) {
			return os.NewSyscallError("fdatasync", err)
		}
	}
}
