//go:build linux

package gpiochip

import (
	"errors"
	"fmt"
	"os"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// batch is how many events one read takes at most.
const batch = 256

// input is a requested line's file.
type input struct {
	f   *os.File
	raw []byte
}

func newInput(f *os.File) *input { return &input{f, make([]byte, batch*eventSize)} }

// Read implements Input.
func (in *input) Read(buf []Event, timeout time.Duration) (int, error) {
	if timeout <= 0 || len(buf) == 0 {
		return 0, fmt.Errorf("cannot wait %v for %d events of %s: both must be above 0", timeout, len(buf), in.f.Name())
	}
	if err := in.f.SetReadDeadline(time.Now().Add(timeout)); err != nil {
		return 0, err
	}
	n, err := in.f.Read(in.raw[:min(len(buf), batch)*eventSize])
	switch {
	case errors.Is(err, os.ErrDeadlineExceeded):
		return 0, nil
	case err != nil:
		return 0, fmt.Errorf("cannot read events: %w", err)
	}
	return decodeEvents(buf, in.raw[:n])
}

// Value implements Input.
func (in *input) Value() (bool, error) {
	v := lineValues{mask: 1}
	if err := ioctl(in.f, unix.GPIO_V2_LINE_GET_VALUES_IOCTL, unsafe.Pointer(&v)); err != nil {
		return false, fmt.Errorf("cannot read the level of %s: %w", in.f.Name(), err)
	}
	return v.bits&1 != 0, nil
}

// Now implements Input.
func (in *input) Now() time.Duration {
	var ts unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_MONOTONIC, &ts); err != nil {
		return 0 // can't happen: every Linux has this clock
	}
	return time.Duration(ts.Nano())
}

// Close implements Input.
func (in *input) Close() error { return in.f.Close() }

// output is a requested line's file.
type output struct{ f *os.File }

// Set implements Output.
func (o *output) Set(active bool) error {
	v := lineValues{mask: 1}
	if active {
		v.bits = 1
	}
	if err := ioctl(o.f, unix.GPIO_V2_LINE_SET_VALUES_IOCTL, unsafe.Pointer(&v)); err != nil {
		return fmt.Errorf("cannot set %s: %w", o.f.Name(), err)
	}
	return nil
}

// Alive implements Output. It asks for a change of no line at all, which the
// kernel refuses as long as it has a chip to refuse it for. Source: the kernel's
// drivers/gpio/gpiolib-cdev.c, linereq_set_values: EINVAL for an empty mask,
// after ENODEV for a chip that is gone.
func (o *output) Alive() error {
	var none lineValues
	err := ioctl(o.f, unix.GPIO_V2_LINE_SET_VALUES_IOCTL, unsafe.Pointer(&none))
	if err == nil || errors.Is(err, unix.EINVAL) {
		return nil
	}
	return fmt.Errorf("%s is gone: %w", o.f.Name(), err)
}

// Close implements Output.
func (o *output) Close() error { return o.f.Close() }
