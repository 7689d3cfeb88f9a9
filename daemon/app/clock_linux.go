package app

import "golang.org/x/sys/unix"

// kernelSynced asks the kernel whether something keeps the wall clock right. A
// time service clears the mark "unsynchronised" once it is sure of the time;
// source: adjtimex(2), STA_UNSYNC. A kernel that doesn't tell is not believed.
func kernelSynced() bool {
	var t unix.Timex
	_, err := unix.Adjtimex(&t)
	return err == nil && t.Status&unix.STA_UNSYNC == 0
}
