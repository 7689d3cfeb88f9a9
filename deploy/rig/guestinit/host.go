//go:build linux && amd64

package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// host is the line to the test on the other side.
type host struct {
	mu    sync.Mutex
	out   io.Writer
	lines int
}

// say sends one whole line; the time in front is the guest's own.
func (h *host) say(kind, text string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.lines++
	line := fmt.Sprintf("%.3f %s %s\n", time.Since(started).Seconds()+startedAt, kind, strings.ReplaceAll(text, "\n", " | "))
	if _, err := io.WriteString(h.out, line); err != nil {
		fmt.Println("cannot speak to the host:", err)
	}
}

func (h *host) count() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.lines
}

// openPort finds a virtio port by its name. Without udev there is no folder of
// names in /dev, but sysfs has them.
func openPort(name string) (*os.File, error) {
	found := ""
	err := until(5*time.Second, func() bool {
		names, _ := filepath.Glob("/sys/class/virtio-ports/*/name")
		for _, p := range names {
			if text(p) == name {
				found = "/dev/" + filepath.Base(filepath.Dir(p))
				_, err := os.Stat(found)
				return err == nil
			}
		}
		return false
	})
	if err != nil {
		return nil, fmt.Errorf("cannot find the virtio port %q: %w", name, err)
	}
	return os.OpenFile(found, os.O_RDWR, 0)
}
