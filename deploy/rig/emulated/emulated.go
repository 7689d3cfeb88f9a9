// Package emulated lets a test start a program that is built for the processor
// of the test itself, its own binary above all. The emulator of .ci/run
// translates one process and knows nothing of those that it starts, so a child
// needs the emulator's name in front; the variable HEADROOM_EMULATOR has it. The
// package owns nothing else and refuses to guess an emulator: without the
// variable a binary is taken to be for this processor.
package emulated

import (
	"context"
	"os"
	"os/exec"
)

// Variable names the emulator's program, for example qemu-aarch64-static.
const Variable = "HEADROOM_EMULATOR"

// Self returns a command that runs this process's own binary with those
// arguments.
func Self(ctx context.Context, args ...string) *exec.Cmd {
	return Command(ctx, os.Args[0], args...)
}

// Command returns a command that runs a program which was built for this
// process's processor.
func Command(ctx context.Context, program string, args ...string) *exec.Cmd {
	argv := append([]string{program}, args...)
	if e := os.Getenv(Variable); e != "" {
		argv = append([]string{e}, argv...)
	}
	return exec.CommandContext(ctx, argv[0], argv[1:]...)
}
