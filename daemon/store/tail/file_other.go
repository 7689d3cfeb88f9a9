//go:build !linux

package tail

import "os"

func openDirect(path string) (f *os.File, unit int64, err error) {
	f, err = os.OpenFile(path, os.O_RDWR, 0)
	return f, sector, err
}

func syncData(f *os.File) error { return f.Sync() }
