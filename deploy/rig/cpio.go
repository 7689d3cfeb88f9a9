package rig

import (
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
)

// archive writes the kernel's initramfs format ("newc", see the kernel's
// Documentation/driver-api/early-userspace/buffer-format.rst).
type archive struct {
	out     io.Writer
	inode   int
	folders map[string]bool
	err     error
}

func newArchive(out io.Writer) *archive {
	return &archive{out: out, folders: map[string]bool{}}
}

// file adds a file and the folders above it.
func (a *archive) file(name string, mode uint32, content []byte) {
	a.folder(path.Dir(strings.TrimPrefix(name, "/")))
	a.entry(strings.TrimPrefix(name, "/"), 0o100000|mode, content)
}

// folder adds a folder and those above it, once.
func (a *archive) folder(name string) {
	name = strings.Trim(name, "/")
	if name == "." || name == "" || a.folders[name] {
		return
	}
	a.folder(path.Dir(name))
	a.folders[name] = true
	a.entry(name, 0o040755, nil)
}

// end writes the trailer and returns the first error of all.
func (a *archive) end() error {
	a.entry("TRAILER!!!", 0, nil)
	return a.err
}

func (a *archive) entry(name string, mode uint32, content []byte) {
	if a.err != nil {
		return
	}
	a.inode++
	fields := []int{a.inode, int(mode), 0, 0, 1, 0, len(content), 0, 0, 0, 0, len(name) + 1, 0}
	b := []byte("070701")
	for _, f := range fields {
		b = fmt.Appendf(b, "%08X", f)
	}
	b = pad(append(append(b, name...), 0))
	b = append(b, pad(slices.Clone(content))...)
	_, a.err = a.out.Write(b)
}

func pad(b []byte) []byte {
	for len(b)%4 != 0 {
		b = append(b, 0)
	}
	return b
}
