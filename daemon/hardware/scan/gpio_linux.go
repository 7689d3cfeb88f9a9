package scan

import (
	"bytes"
	"fmt"
	"os"
	"unsafe"

	"golang.org/x/sys/unix"
)

// The structures of linux/gpio.h, struct gpiochip_info and struct
// gpio_v2_line_info, which have one layout on 32 and 64 bits.
type chipInfo struct {
	name, label [32]byte
	lines       uint32
}

type lineInfo struct {
	name, consumer   [32]byte
	offset, numAttrs uint32
	flags            uint64
	attrs            [10][16]byte
	padding          [4]uint32
}

// lineUsed is GPIO_V2_LINE_FLAG_USED.
const lineUsed = 1

// listChip asks the kernel for a chip's lines. It requests none of them.
func listChip(path string) (Chip, error) {
	f, err := os.Open(path)
	if err != nil {
		return Chip{}, err
	}
	defer f.Close()
	var info chipInfo
	if err := ask(f, unix.GPIO_GET_CHIPINFO_IOCTL, unsafe.Pointer(&info)); err != nil {
		return Chip{}, fmt.Errorf("is no GPIO chip: %w", err)
	}
	c := Chip{Label: text(info.label[:])}
	for offset := range info.lines {
		l := lineInfo{offset: offset}
		if err := ask(f, unix.GPIO_V2_GET_LINEINFO_IOCTL, unsafe.Pointer(&l)); err != nil {
			return c, fmt.Errorf("line %d (kernel older than 5.10?): %w", offset, err)
		}
		line := Line{Offset: offset, Name: text(l.name[:])}
		if l.flags&lineUsed != 0 {
			line.User = text(l.consumer[:])
			if line.User == "" {
				line.User = "the kernel"
			}
		}
		c.Lines = append(c.Lines, line)
	}
	return c, nil
}

func text(b []byte) string {
	b, _, _ = bytes.Cut(b, []byte{0})
	return string(b)
}

// ask calls the kernel without letting f be closed meanwhile.
func ask(f *os.File, request uintptr, arg unsafe.Pointer) error {
	conn, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var errno unix.Errno
	err = conn.Control(func(fd uintptr) { _, _, errno = unix.Syscall(unix.SYS_IOCTL, fd, request, uintptr(arg)) })
	if err == nil && errno != 0 {
		err = errno
	}
	return err
}
