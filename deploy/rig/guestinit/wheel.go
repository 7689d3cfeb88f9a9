//go:build linux && amd64

package main

import (
	"fmt"
	"sync"
	"time"
)

// wheel is a flow meter's wheel that turns while other commands run.
type wheel struct {
	mu     sync.Mutex
	stop   chan struct{}
	result chan string
}

// doWheel turns it, or stops it and says what it did.
func (b *board) doWheel(words []string) (string, error) {
	w := &b.wheel
	w.mu.Lock()
	defer w.mu.Unlock()
	switch {
	case words[1] == "stop" && w.stop != nil:
		close(w.stop)
		w.stop = nil
		return <-w.result, nil
	case words[1] == "turn" && w.stop == nil && len(words) == 4:
		rate, err := number(words, 3, 0)
		if err != nil {
			return "", err
		}
		if rate <= 0 {
			return "", fmt.Errorf("%g pulses a second turn no wheel", rate)
		}
		if _, err := b.pins.line(words[2]); err != nil {
			return "", err
		}
		w.stop, w.result = make(chan struct{}), make(chan string, 1)
		go func() { w.result <- b.pins.turn(words[2], rate, w.stop) }()
		return "", nil
	}
	return "", errUnknown
}

// turn gives pulses one by one until stop closes, at least a period apart, as
// a wheel does: a busy host makes it slower and never faster.
func (p *pins) turn(name string, rate float64, stop <-chan struct{}) string {
	begin, count := time.Now(), 0
	t := time.NewTimer(0)
	defer t.Stop()
	for {
		select {
		case <-stop:
			return fmt.Sprintf("%d pulses in %.3f s", count, time.Since(begin).Seconds())
		case <-t.C:
		}
		t.Reset(time.Duration(float64(time.Second) / rate))
		if _, err := p.pulses(name, 1, 0, 1, catchUp); err != nil {
			return err.Error()
		}
		count++
	}
}
