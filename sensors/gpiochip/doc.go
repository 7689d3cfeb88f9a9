// Package gpiochip reads and drives single lines of a Linux GPIO chip through
// the character device, ABI v2 (kernel 5.10 or later). It owns the layout of
// the kernel's structures, the request of a line with everything that must be
// true from its first instant (an output's level, an input's debounce), and
// events with the kernel's time stamp and sequence numbers, so that a lost
// pulse is seen and not guessed. It refuses what has cost pumps elsewhere: it
// never reads an output line, never changes a line's direction, never waits
// without a limit, and never hides that the kernel dropped events.
//
// One request is one line. Requester is all that a driver needs, and so all
// that a fake (gpiofake) has to offer; Linux is the real one.
//
// Source of the ABI: linux/gpio.h of the Linux kernel and the kernel's
// userspace-api/gpio documents.
package gpiochip
