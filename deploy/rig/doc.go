// Package rig runs headroom's drivers, and the daemon itself, against a real
// Linux kernel with modelled hardware: a small guest in QEMU, without KVM,
// whose I2C, 1-wire, GPIO and serial stacks are the distribution's own. It owns
// the kernel (prepare.sh), the guest's file system, the machine and the
// conversation with it; models live in the folders below. It judges nothing by
// itself and refuses to pass a run that the guest didn't end: a kernel panic
// also stops a machine.
//
// The suites have the build tag rig, since they need Debian packages
// (packages.txt) and minutes:
//
//	deploy/rig/run                            # the most telling suites, for CI
//	deploy/rig/run -long                      # every suite in its long form
//	go test -tags rig ./deploy/rig -v         # every suite in its short form
//
// What no rig can show: electrical behaviour, a board's own controllers and
// their clock stretching, 1-wire timing made by software, RS-485 direction
// switching, the gaps between Modbus frames (QEMU doesn't pace by baud rate),
// and latency on the real board.
package rig
