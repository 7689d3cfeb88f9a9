//go:build unix

package wholefile

import (
	"fmt"
	"os"
	"syscall"
)

// giveToOwner gives a file that root writes to whom the folder belongs to.
func giveToOwner(f *os.File, dir string) error {
	if os.Geteuid() != 0 {
		return nil
	}
	info, err := os.Stat(dir)
	if err != nil {
		return fmt.Errorf("cannot tell the folder's owner: %w", err)
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok || st.Uid == 0 {
		return nil
	}
	if err := f.Chown(int(st.Uid), int(st.Gid)); err != nil {
		return fmt.Errorf("cannot give the file to the folder's owner: %w", err)
	}
	return nil
}
