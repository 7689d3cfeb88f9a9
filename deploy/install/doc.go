// Package install takes headroom's Debian packages through a life: install,
// run, upgrade, a downgrade that must be refused, removal, purge, in a bare
// Debian that debootstrap makes. The short form does so in a chroot, where no
// systemd runs; the long form boots the same Debian in QEMU with its own systemd
// and looks at readiness, watchdog and lockdown too. It judges packages as they
// are built and refuses to look into the source.
//
//	deploy/install/run         # short form, for CI, as root
//	deploy/install/run -long   # and the machine with systemd
//
// The tests have the build tag install, since they need root, Debian packages
// (packages.txt) and minutes.
package install
