//go:build unix

package calibrate

import (
	"fmt"
	"os"
	"syscall"
)

// lockFolder keeps other programs from changing the folder until unlock. The
// lock ends with its program, however that ends.
func lockFolder(dir string) (unlock func(), err error) {
	d, err := os.Open(dir)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(d.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		_ = d.Close() // nothing was written to it
		return nil, fmt.Errorf("another program is changing them (%w): try again", err)
	}
	return func() { _ = d.Close() }, nil
}
