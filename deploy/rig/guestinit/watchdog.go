//go:build linux && amd64

package main

import (
	"fmt"
	"os"
	"sync"
	"syscall"
	"time"
	"unsafe"
)

// dog is the guest's hardware watchdog, fed as a service manager feeds it.
type dog struct {
	mu   sync.Mutex
	file *os.File
	stop chan struct{}
}

// feed opens the watchdog with a time-out of that many seconds and feeds it
// every second.
func (d *dog) feed(seconds int32) (string, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	f, err := os.OpenFile("/dev/watchdog", os.O_WRONLY, 0)
	if err != nil {
		return "", fmt.Errorf("cannot open the watchdog: %w", err)
	}
	const setTimeout = 0xc0045706 // WDIOC_SETTIMEOUT of linux/watchdog.h
	if _, _, e := syscall.Syscall(syscall.SYS_IOCTL, f.Fd(), setTimeout, uintptr(unsafe.Pointer(&seconds))); e != 0 {
		f.Close()
		return "", fmt.Errorf("cannot set the watchdog's time-out: %w", e)
	}
	d.file, d.stop = f, make(chan struct{})
	go keepFeeding(f, d.stop)
	return fmt.Sprintf("%s, %d s", text("/sys/class/watchdog/watchdog0/identity"), seconds), nil
}

func keepFeeding(f *os.File, stop <-chan struct{}) {
	for {
		if _, err := f.Write([]byte{0}); err != nil {
			return
		}
		select {
		case <-stop:
			return
		case <-time.After(time.Second):
		}
	}
}

// starve stops feeding, with the watchdog armed.
func (d *dog) starve() {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.stop != nil {
		close(d.stop)
		d.stop = nil
	}
}
