//go:build linux

package modbus

import (
	"errors"
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

var speeds = map[int]uint32{
	1200: unix.B1200, 2400: unix.B2400, 4800: unix.B4800, 9600: unix.B9600,
	19_200: unix.B19200, 38_400: unix.B38400, 57_600: unix.B57600, 115_200: unix.B115200,
}

// Open opens and sets a serial line of the kernel: raw, eight data bits, no
// flow control, for us alone. The error says which part failed.
func (s Serial) Open() (Port, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	// Without O_NONBLOCK an open would wait for a carrier, perhaps for ever;
	// with it the Go runtime keeps the deadlines.
	f, err := os.OpenFile(s.Path, os.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
	if err != nil {
		return nil, fmt.Errorf("cannot open the serial line: %w: is the adapter plugged in, and the user in the group dialout?", err)
	}
	if err := s.set(f); err != nil {
		f.Close()
		return nil, fmt.Errorf("cannot set up the serial line %s: %w", s.Path, err)
	}
	return &file{f}, nil
}

func (s Serial) termios() unix.Termios {
	speed := speeds[s.Baud]
	t := unix.Termios{
		Cflag:  unix.CS8 | unix.CREAD | unix.CLOCAL | speed,
		Ispeed: speed, Ospeed: speed,
	}
	t.Cc[unix.VMIN], t.Cc[unix.VTIME] = 1, 0
	switch s.Parity {
	case EvenParity:
		t.Cflag |= unix.PARENB
		t.Iflag = unix.INPCK // a bad byte reads as 0, and the checksum tells
	case OddParity:
		t.Cflag |= unix.PARENB | unix.PARODD
		t.Iflag = unix.INPCK
	case NoParityTwoStops:
		t.Cflag |= unix.CSTOPB
	}
	return t
}

func (s Serial) set(f *os.File) error {
	want := s.termios()
	return control(f, func(fd int) error {
		if err := unix.IoctlSetInt(fd, unix.TIOCEXCL, 0); err != nil {
			return fmt.Errorf("it is no serial line: %w", err)
		}
		if err := unix.IoctlSetTermios(fd, unix.TCSETS, &want); err != nil {
			return err
		}
		// The call succeeds if any one setting could be made; see termios(3).
		got, err := unix.IoctlGetTermios(fd, unix.TCGETS)
		if err != nil {
			return err
		}
		const frame = unix.CSIZE | unix.PARENB | unix.PARODD | unix.CSTOPB | unix.CBAUD
		if got.Cflag&frame != want.Cflag&frame {
			return fmt.Errorf("it does not take %d baud with %s", s.Baud, s.Parity)
		}
		return unix.IoctlSetInt(fd, unix.TCFLSH, unix.TCIOFLUSH)
	})
}

func control(f *os.File, do func(fd int) error) error {
	conn, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var inner error
	outer := conn.Control(func(fd uintptr) { inner = do(int(fd)) })
	return errors.Join(outer, inner)
}

// file is a serial line whose Close doesn't wait for unsent bytes.
type file struct{ *os.File }

// Close drops what wasn't sent, as the kernel would else wait up to 30 s for
// an adapter that no longer takes bytes.
func (f *file) Close() error {
	_ = control(f.File, func(fd int) error { return unix.IoctlSetInt(fd, unix.TCFLSH, unix.TCIOFLUSH) })
	return f.File.Close()
}
