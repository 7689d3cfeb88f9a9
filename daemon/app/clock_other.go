//go:build !linux

package app

// kernelSynced: only Linux is asked.
func kernelSynced() bool { return false }
