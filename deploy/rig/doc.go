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
//	deploy/rig/run -cuts                      # 200 power cuts and more
//	go test -tags rig ./deploy/rig -v         # every suite in its short form
//
// # Power cuts
//
// The record lies on a disk of package nbd, whose cache loses what wasn't
// flushed: each sector may survive, be lost, or be torn. A cut is either the
// plug, where the disk freezes in the middle of a request and QEMU is killed,
// or a picture: the same loss worked out while the guest goes on. Either is
// mounted by the guest's kernel and opened by the recorder as at every start.
// What counts as safe is what the guest said before the cut. The control runs
// the same program with syncs that do nothing, and fails if nothing is lost.
//
// Now and then the kernel refuses the ext4 file system ("journal transaction is
// corrupt"), most likely because the block that ends the transaction is torn.
// A board mends that at its start with e2fsck, and so does the rig, which says
// how often; e2fsck -p has been enough each time. So the record needs a file
// system that is checked at the start (a 2 at the end of its line in fstab).
//
// # What no rig can show
//
// Electrical behaviour, a board's own controllers and their clock stretching,
// 1-wire timing made by software, RS-485 direction switching, the gaps between
// Modbus frames (QEMU doesn't pace by baud rate), latency on the real board, a
// boot loader's time, and a memory card that loses what it had confirmed.
//
// A motor's current is sampled 860 times a second, and a transfer over the
// modelled USB adapter takes more than two milliseconds: that path runs at 64
// samples a second on another quantity (TestBlocksOfSamples), and at its own
// rate only against the models, in package adc. QEMU's vhost-user-i2c would be
// faster, but Debian's kernels are built without the driver for it
// (CONFIG_I2C_VIRTIO), so it would be one more module from outside and one more
// backend of ours, for one number.
package rig
