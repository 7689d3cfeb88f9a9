//go:build linux && amd64

package main

import (
	"fmt"
	"runtime"
	"syscall"
	"time"
	"unsafe"
)

// The scheduler's policies of linux/sched.h. The flood's priority is below
// that of the kernel's interrupt threads, 50, and above that of every program.
const (
	schedOther, schedFIFO = 0, 1
	floodPriority         = 10
)

// doFlood drives pulses as fast as it goes while no program gets the
// processor. Without that a reader is woken by each pulse and slows the next
// one down, so that no two come too close.
func (b *board) doFlood(words []string) (string, error) {
	count, err := number(words, 3, 1)
	if err != nil {
		return "", err
	}
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	if err := schedule(schedFIFO, floodPriority); err != nil {
		return "", err
	}
	took, err := b.pins.pulses(words[2], int(count), 0, 1, catchUp)
	if back := schedule(schedOther, 0); err == nil {
		err = back
	}
	return fmt.Sprintf("%.0f pulses in %v", count, took.Round(time.Millisecond)), err
}

// schedule sets the policy and priority of this thread.
func schedule(policy uintptr, priority int32) error {
	if _, _, e := syscall.Syscall(syscall.SYS_SCHED_SETSCHEDULER, 0, policy, uintptr(unsafe.Pointer(&priority))); e != 0 {
		return fmt.Errorf("cannot set the thread's priority: %w", e)
	}
	return nil
}
