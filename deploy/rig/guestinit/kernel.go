//go:build linux && amd64

package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
	"unsafe"
)

// started is when this process began, and startedAt the guest's uptime then:
// the sum of both is a clock that is right from the first line on.
var (
	started   = time.Now()
	startedAt = uptime()
)

func uptime() float64 {
	var info syscall.Timespec
	const clockBoottime = 7
	if _, _, e := syscall.Syscall(syscall.SYS_CLOCK_GETTIME, clockBoottime, uintptr(unsafe.Pointer(&info)), 0); e != 0 {
		return 0
	}
	return float64(info.Sec) + float64(info.Nsec)/1e9
}

// finitModule is the system call that loads a module, on amd64; the frozen
// syscall package has no name for it.
const finitModule = 313

// moduleOptions: the 1-wire bus is searched every second and forgets a sensor
// that one search misses, so that a test needn't wait for the usual 10 x 10 s.
var moduleOptions = map[string]string{"wire": "timeout=1 slave_ttl=1"}

func bringUp() error {
	mounts := []struct{ source, folder, kind string }{
		{"proc", "/proc", "proc"},
		{"sysfs", "/sys", "sysfs"},
		{"devtmpfs", "/dev", "devtmpfs"},
		{"tmpfs", "/tmp", "tmpfs"},
		{"tmpfs", "/run", "tmpfs"},
	}
	for _, m := range mounts {
		if err := mount(m.source, m.folder, m.kind); err != nil {
			return err
		}
	}
	if err := loadModules("/modules"); err != nil {
		return err
	}
	if err := mount("configfs", "/sys/kernel/config", "configfs"); err != nil {
		return err
	}
	if err := loopback(); err != nil {
		return err
	}
	return mount("tracefs", "/sys/kernel/tracing", "tracefs")
}

func mount(source, folder, kind string) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("cannot make %s: %w", folder, err)
	}
	if err := syscall.Mount(source, folder, kind, 0, ""); err != nil && !errors.Is(err, syscall.EBUSY) {
		return fmt.Errorf("cannot mount %s at %s: %w", kind, folder, err)
	}
	return nil
}

// unmount lets go of a device, and of all that the kernel keeps of its content.
func unmount(folder, device string) error {
	if err := syscall.Unmount(folder, 0); err != nil {
		return fmt.Errorf("cannot unmount %s: %w", folder, err)
	}
	f, err := os.Open(device)
	if err != nil {
		return err
	}
	defer f.Close()
	const flushBuffers = 0x1261 // BLKFLSBUF of linux/fs.h
	if _, _, e := syscall.Syscall(syscall.SYS_IOCTL, f.Fd(), flushBuffers, 0); e != 0 {
		return fmt.Errorf("cannot drop what is kept of %s: %w", device, e)
	}
	return nil
}

// loadModules loads what prepare.sh numbered, in that order.
func loadModules(folder string) error {
	files, err := filepath.Glob(filepath.Join(folder, "*.ko"))
	if err != nil {
		return err
	}
	slices.Sort(files)
	for _, file := range files {
		_, name, _ := strings.Cut(strings.TrimSuffix(filepath.Base(file), ".ko"), "-")
		if err := loadModule(file, moduleOptions[name]); err != nil {
			return fmt.Errorf("cannot load module %s: %w", name, err)
		}
	}
	return nil
}

func loadModule(file, options string) error {
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	o := append([]byte(options), 0)
	_, _, e := syscall.Syscall(finitModule, f.Fd(), uintptr(unsafe.Pointer(&o[0])), 0)
	// A module for a processor feature that the emulated one lacks says ENODEV.
	if e != 0 && e != syscall.EEXIST && e != syscall.ENODEV {
		return e
	}
	return nil
}

// text returns a sysfs file's content, trimmed; empty when there is none.
func text(path string) string {
	b, err := os.ReadFile(path)
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(b))
}

// put writes a sysfs or configfs file in one write, as they want it.
func put(path, value string) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	if _, err := f.WriteString(value); err != nil {
		return fmt.Errorf("cannot write %q: %w", value, err)
	}
	return nil
}

var errLate = errors.New("waited too long")

// until polls ready for at most limit.
func until(limit time.Duration, ready func() bool) error {
	for end := time.Now().Add(limit); ; {
		if ready() {
			return nil
		}
		if time.Now().After(end) {
			return errLate
		}
		time.Sleep(5 * time.Millisecond)
	}
}

// number reads words[i] as a number, with a fall-back when there is no such
// word.
func number(words []string, i int, otherwise float64) (float64, error) {
	if i >= len(words) {
		return otherwise, nil
	}
	if n, err := strconv.ParseInt(words[i], 0, 64); err == nil {
		return float64(n), nil // also 0x48
	}
	v, err := strconv.ParseFloat(words[i], 64)
	if err != nil {
		return 0, fmt.Errorf("%q in %q is no number", words[i], strings.Join(words, " "))
	}
	return v, nil
}
