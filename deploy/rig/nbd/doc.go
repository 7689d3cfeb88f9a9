// Package nbd serves a disk with a volatile write cache over the NBD protocol,
// so that a guest's file system can be put through power cuts that a kill of
// the guest is too kind for: what a machine has written but not flushed is
// lost, or partly lost, sector by sector. It owns the disk's memory, the
// instant of a cut, and injected faults (errors on write, a full disk). It
// serves one client at a time, keeps everything in memory and refuses requests
// beyond the disk's end.
//
// A disk without a cut, or one that ignores flushes, is the control: a test of
// durability is worth something only if it fails there.
//
// Source: the NBD protocol's doc/proto.md (fixed newstyle handshake).
package nbd
