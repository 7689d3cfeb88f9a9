//go:build rig

package rig

import (
	"net"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/deploy/rig/nbd"
)

// The disk for later tests of the record: the kernel must see a disk whose
// cache it has to flush, or no such test means anything.
func TestDiskHasAVolatileCache(t *testing.T) {
	const sectors = 8192
	d := nbd.NewDisk(make([]byte, sectors*nbd.SectorBytes), 1, nbd.Faults{})
	socket := filepath.Join(shortFolder(t), "disk.sock")
	l, err := net.Listen("unix", socket)
	require.NoError(t, err)
	defer l.Close()
	go func() { _ = nbd.Listen(l, d) }()
	g := bootWith(t, Options{Disk: socket})
	require.Equal(t, "8192", g.do("read /sys/block/vda/size"))
	require.Equal(t, "write back", g.do("read /sys/block/vda/queue/write_cache"))
	g.end()
}
