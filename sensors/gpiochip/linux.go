//go:build linux

package gpiochip

import (
	"fmt"
	"os"
	"path/filepath"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Linux requests lines from the running kernel.
type Linux struct {
	// Dev is where the chips' device files are; empty is /dev.
	Dev string
}

var _ Requester = Linux{}

// Input implements Requester. The error names chip and line, and who holds the
// line if another program does.
func (l Linux) Input(r InputRequest) (Input, error) {
	if err := r.Check(); err != nil {
		return nil, fmt.Errorf("cannot request input %s: %w", r.Line, err)
	}
	f, err := l.request(r.Chip, r.Line, r.kernel)
	if err != nil {
		return nil, fmt.Errorf("cannot request input %s of %s: %w", r.Line, chipName(r.Chip), err)
	}
	return newInput(f), nil
}

// Output implements Requester. The error names chip and line, and who holds
// the line if another program does.
func (l Linux) Output(r OutputRequest) (Output, error) {
	if err := r.Check(); err != nil {
		return nil, fmt.Errorf("cannot request output %s: %w", r.Line, err)
	}
	f, err := l.request(r.Chip, r.Line, r.kernel)
	if err != nil {
		return nil, fmt.Errorf("cannot request output %s of %s: %w", r.Line, chipName(r.Chip), err)
	}
	return &output{f}, nil
}

func chipName(chip string) string {
	if chip == "" {
		return "any chip"
	}
	return chip
}

// request opens the chip, finds the line and asks for it. The chip's own file
// is closed again: the line's file lives on without it.
func (l Linux) request(chip string, line Line, build func(offset uint32) lineRequest) (*os.File, error) {
	path, offset, err := l.find(chip, line)
	if err != nil {
		return nil, err
	}
	c, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil, fmt.Errorf("%w: is the user in the group that may use GPIO?", err)
	}
	defer c.Close()
	if err := refuseUsed(c, offset); err != nil {
		return nil, err
	}
	k := build(offset)
	if err := ioctl(c, unix.GPIO_V2_GET_LINE_IOCTL, unsafe.Pointer(&k)); err != nil {
		return nil, fmt.Errorf("the kernel refuses the line: %w", err)
	}
	// Without blocking reads the Go runtime waits, with a deadline, and Close
	// wakes the reader; no thread is stuck in the kernel.
	if err := unix.SetNonblock(int(k.fd), true); err != nil {
		unix.Close(int(k.fd))
		return nil, err
	}
	return os.NewFile(uintptr(k.fd), path+" "+line.String()), nil
}

func refuseUsed(c *os.File, offset uint32) error {
	info := lineInfo{offset: offset}
	if err := ioctl(c, unix.GPIO_V2_GET_LINEINFO_IOCTL, unsafe.Pointer(&info)); err != nil {
		return fmt.Errorf("the chip has no line %d: %w", offset, err)
	}
	if info.flags&flagUsed != 0 {
		return fmt.Errorf("the line is held by %q: stop that program or free the line in the board's configuration", text(info.consumer[:]))
	}
	return nil
}

// find returns the chip's path and the line's offset.
func (l Linux) find(chip string, line Line) (string, uint32, error) {
	if line.Name == "" {
		return chip, line.Offset, nil
	}
	paths := []string{chip}
	if chip == "" {
		dev := l.Dev
		if dev == "" {
			dev = "/dev"
		}
		paths, _ = filepath.Glob(filepath.Join(dev, "gpiochip*")) // the pattern is good, so no error
		if len(paths) == 0 {
			return "", 0, fmt.Errorf("there is no GPIO chip in %s", dev)
		}
	}
	var all []place
	for _, p := range paths {
		found, err := named(p, line.Name)
		if err != nil && chip != "" {
			return "", 0, err
		}
		all = append(all, found...) // a chip that can't be searched is somebody else's
	}
	return only(all, line.Name)
}

type place struct {
	path   string
	offset uint32
}

// only refuses to guess between lines of the same name.
func only(all []place, name string) (string, uint32, error) {
	switch len(all) {
	case 0:
		return "", 0, fmt.Errorf("no line is named %q: the command gpioinfo lists the names", name)
	case 1:
		return all[0].path, all[0].offset, nil
	}
	return "", 0, fmt.Errorf("the name %q stands for %s line %d and for %s line %d: give chip and offset",
		name, all[0].path, all[0].offset, all[1].path, all[1].offset)
}

// named lists the chip's lines with that name.
func named(path, name string) ([]place, error) {
	c, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer c.Close()
	var chip chipInfo
	if err := ioctl(c, unix.GPIO_GET_CHIPINFO_IOCTL, unsafe.Pointer(&chip)); err != nil {
		return nil, fmt.Errorf("%s is no GPIO chip: %w", path, err)
	}
	var out []place
	for offset := range chip.lines {
		info := lineInfo{offset: offset}
		if err := ioctl(c, unix.GPIO_V2_GET_LINEINFO_IOCTL, unsafe.Pointer(&info)); err != nil {
			return nil, fmt.Errorf("cannot ask %s for line %d (kernel older than 5.10?): %w", path, offset, err)
		}
		if text(info.name[:]) == name {
			out = append(out, place{path, offset})
		}
	}
	return out, nil
}

// ioctl calls the kernel without letting f be closed meanwhile.
func ioctl(f *os.File, request uintptr, arg unsafe.Pointer) error {
	conn, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var errno unix.Errno
	err = conn.Control(func(fd uintptr) {
		for {
			_, _, errno = unix.Syscall(unix.SYS_IOCTL, fd, request, uintptr(arg))
			if errno != unix.EINTR {
				return
			}
		}
	})
	if err == nil && errno != 0 {
		err = errno
	}
	return err
}
