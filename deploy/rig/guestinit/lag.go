//go:build linux && amd64

package main

import (
	"fmt"
	"sync"
	"time"
)

// lag measures how late this process gets the processor. The models answer
// from here: when the host is so busy that they answer late, a transfer that
// nothing is wrong with looks like a fault of the bus.
type lag struct {
	mu    sync.Mutex
	worse time.Duration
}

func (l *lag) watch() {
	const step = 5 * time.Millisecond
	for {
		begin := time.Now()
		time.Sleep(step)
		late := time.Since(begin) - step
		l.mu.Lock()
		l.worse = max(l.worse, late)
		l.mu.Unlock()
	}
}

// worst returns the longest wait since it was asked last, in ms.
func (l *lag) worst() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	w := l.worse
	l.worse = 0
	return fmt.Sprint(w.Milliseconds())
}
