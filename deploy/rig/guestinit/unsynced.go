//go:build linux && amd64

package main

import (
	"fmt"
	"os"
	"runtime"
	"syscall"
	"unsafe"
)

// unsyncedWord makes guestinit a program that becomes another one, without
// its syncs.
const unsyncedWord = "unsynced"

// The seccomp filter and its programs, from linux/seccomp.h, linux/filter.h
// and linux/audit.h.
const (
	prSetNoNewPrivileges = 38
	sysSeccomp           = 317
	modeFilter           = 1
	loadWord             = 0x20 // BPF_LD | BPF_W | BPF_ABS
	jumpEqual            = 0x15 // BPF_JMP | BPF_JEQ | BPF_K
	give                 = 0x06 // BPF_RET | BPF_K
	allow                = 0x7fff0000
	fail                 = 0x00050000 // with the errno in the low bits; 0 is success
	numberAt             = 0          // of struct seccomp_data
)

// syncCalls are all system calls that make something durable.
var syncCalls = [...]uint32{
	syscall.SYS_FSYNC, syscall.SYS_FDATASYNC, syscall.SYS_SYNC, syscall.SYS_SYNC_FILE_RANGE, syscall.SYS_MSYNC,
	306, // syncfs
}

// unsynced becomes the program, with a filter that lets each sync return at
// once as if it were done. It is the control of the power cuts: the same
// binary, without the one thing that they test.
func unsynced(argv []string) error {
	runtime.LockOSThread()
	if _, _, e := syscall.RawSyscall6(syscall.SYS_PRCTL, prSetNoNewPrivileges, 1, 0, 0, 0, 0); e != 0 {
		return fmt.Errorf("cannot give up privileges: %w", e)
	}
	filter := []syscall.SockFilter{{Code: loadWord, K: numberAt}}
	for i, call := range syncCalls {
		filter = append(filter, syscall.SockFilter{Code: jumpEqual, Jt: uint8(len(syncCalls) - i), K: call})
	}
	filter = append(filter, syscall.SockFilter{Code: give, K: allow}, syscall.SockFilter{Code: give, K: fail})
	program := syscall.SockFprog{Len: uint16(len(filter)), Filter: &filter[0]}
	if _, _, e := syscall.RawSyscall(sysSeccomp, modeFilter, 0, uintptr(unsafe.Pointer(&program))); e != 0 {
		return fmt.Errorf("cannot filter system calls: %w", e)
	}
	return fmt.Errorf("cannot start %s: %w", argv[0], syscall.Exec(argv[0], argv, os.Environ()))
}
