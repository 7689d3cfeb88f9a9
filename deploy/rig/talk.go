package rig

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// ErrLate says that the guest didn't say in time what was waited for.
var ErrLate = errors.New("the guest didn't say it in time")

// ErrGone says that the guest's line closed before.
var ErrGone = errors.New("the guest is gone")

// commandTime bounds one command; the longest of them send pulses.
const commandTime = 60 * time.Second

// Wait reads lines until one fits, and drops those before it. what names the
// line for the error.
func (m *Machine) Wait(limit time.Duration, what string, fits func(Line) bool) (Line, error) {
	timer := time.NewTimer(limit)
	defer timer.Stop()
	last := Line{}
	for {
		select {
		case l, open := <-m.lines:
			if !open {
				return Line{}, fmt.Errorf("waiting for %s: %w; its console:\n%s", what, ErrGone, m.Console())
			}
			if fits(l) {
				return l, nil
			}
			last = l
		case <-timer.C:
			return Line{}, fmt.Errorf("waiting %v for %s: %w; last line: %s %s", limit, what, ErrLate, last.Kind, last.Text)
		}
	}
}

// Send gives the guest a command and doesn't wait for its result.
func (m *Machine) Send(format string, args ...any) error {
	if _, err := fmt.Fprintf(m.control, format+"\n", args...); err != nil {
		return fmt.Errorf("cannot speak to the guest: %w: %w", ErrGone, err)
	}
	return nil
}

// Do gives the guest a command and returns its result. Lines of programs that
// come meanwhile are kept for the next Wait.
func (m *Machine) Do(format string, args ...any) (Line, error) {
	if err := m.Send(format, args...); err != nil {
		return Line{}, err
	}
	return m.Reply(fmt.Sprintf(format, args...))
}

// Reply waits for the result of a command that was sent; results come in the
// order of the commands.
func (m *Machine) Reply(command string) (Line, error) {
	select {
	case l, open := <-m.replies:
		if !open {
			return Line{}, fmt.Errorf("%s: %w; its console:\n%s", command, ErrGone, m.Console())
		}
		if l.Kind == "err" {
			return l, errors.New(l.Text)
		}
		return l, nil
	case <-time.After(commandTime):
		return Line{}, fmt.Errorf("%s: %w", command, ErrLate)
	}
}

// Drop forgets the lines that nobody waited for, so that the next Wait sees
// only what comes after.
func (m *Machine) Drop() {
	for {
		select {
		case _, open := <-m.lines:
			if !open {
				return
			}
		default:
			return
		}
	}
}

// End tells the guest to stop and waits for its END line and for QEMU: without
// both, nothing that was seen counts.
func (m *Machine) End() error {
	defer m.Kill()
	if err := m.Send("end"); err != nil {
		return err
	}
	if _, err := m.Wait(20*time.Second, "END", func(l Line) bool { return l.Kind == "END" }); err != nil {
		return err
	}
	if !m.Exited(15 * time.Second) {
		return errors.New("the guest said END, and QEMU runs on")
	}
	if strings.Contains(m.Console(), "Call Trace") {
		return fmt.Errorf("the kernel complained:\n%s", m.Console())
	}
	return nil
}

// Exited waits for QEMU to end by itself.
func (m *Machine) Exited(limit time.Duration) bool {
	select {
	case <-m.exited:
		return true
	case <-time.After(limit):
		return false
	}
}
