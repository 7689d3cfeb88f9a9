package medium

import (
	"os"

	"golang.org/x/sys/unix"
)

// noFileLimit is what file systems say that make files as they need them.
const noFileLimit = -1

func look(dir string) (Medium, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return Medium{}, err
	}
	unit := int64(s.Frsize)
	if unit == 0 {
		unit = int64(s.Bsize)
	}
	m := Medium{
		FreeBytes: int64(s.Bavail) * unit, TotalBytes: int64(s.Blocks) * unit, FreeFiles: noFileLimit,
		ReadOnly: int64(s.Flags)&unix.ST_RDONLY != 0,
	}
	if s.Files > 0 {
		m.FreeFiles = int64(s.Ffree)
	}
	at, err := mounted(dir)
	if err != nil {
		return m, nil // without the table of mounts the type stays unknown
	}
	m.Type = at.kind
	m.Keeps = keeps(at.kind, at.upper, typeOf)
	return m, nil
}

func mounted(dir string) (mount, error) {
	f, err := os.Open("/proc/self/mountinfo")
	if err != nil {
		return mount{}, err
	}
	defer f.Close() // only read from
	m, ok := mountOf(f, dir)
	if !ok {
		return mount{}, os.ErrNotExist
	}
	return m, nil
}

// typeOf is the type of the file system that a folder lies on.
func typeOf(dir string) (string, error) {
	if _, err := os.Stat(dir); err != nil {
		return "", err
	}
	m, err := mounted(dir)
	return m.kind, err
}
