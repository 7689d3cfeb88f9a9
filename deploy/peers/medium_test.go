package peers

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store/seriestest"
)

// secondsSetting is for how long BenchmarkMedium writes, at real speed.
const secondsSetting = "HEADROOM_PEERS_SECONDS"

// BenchmarkMedium measures what reaches the medium: all stores write the noisy
// series at real speed and at the same time, a sync each second, each to an
// ext4 file system of its own on a loop device, whose block counters are read.
// It needs root, losetup and mkfs.ext4. What the stores do now and then, as
// sealing and compaction, is measured by writing half an hour (ours) and two
// hours (the tsdb) in one go, and added as so much an hour.
func BenchmarkMedium(b *testing.B) {
	seconds := setting(secondsSetting, 60)
	b.Chdir("../..") // where the project finds ../shared
	fs := seriestest.Pump(b, seconds*10)
	channels := channelsOf(fs)
	writers, disks := make([]writer, len(peers)), make([]*disk, len(peers))
	for i := range peers {
		disks[i] = newDisk(b)
		writers[i] = peers[i].open(b, disks[i].dir, channels)
		disks[i].settle(b)
	}
	pace := time.NewTicker(seriestest.Tick)
	defer pace.Stop()
	for b.Loop() {
		if b.N > 1 {
			b.Skip("run it with -benchtime 1x")
		}
		for i := range fs {
			<-pace.C
			for _, w := range writers {
				require.NoError(b, w.Append(i, &fs[i]))
				if i%10 == 9 {
					require.NoError(b, w.Sync())
				}
			}
		}
	}
	b.ReportMetric(0, "ns/op")
	for i := range peers {
		bytes, flushes := disks[i].since(b)
		perHour := float64(bytes) / 1e6 * 3600 / float64(seconds)
		b.ReportMetric(perHour, "MB/h-"+peers[i].name)
		b.ReportMetric(float64(flushes)/float64(seconds), "flushes/s-"+peers[i].name)
		require.NoError(b, writers[i].Close())
	}
	b.ReportMetric(inOneGo(b, 0, framesAnHour/2)*2, "MB/h-headroom-sealing")
	b.ReportMetric(inOneGo(b, 1, framesAnHour*2)/2, "MB/h-prometheus-tsdb-compaction")
}

// inOneGo is how many MB putting so many frames into their final form takes:
// what is written from the last frame on.
func inOneGo(b *testing.B, which, frames int) float64 {
	fs := seriestest.Pump(b, frames)
	d := newDisk(b)
	w := peers[which].open(b, d.dir, channelsOf(fs))
	for i := range fs {
		require.NoError(b, w.Append(i, &fs[i]))
		if i%1000 == 999 && i < len(fs)-1000 {
			require.NoError(b, w.Sync())
		}
	}
	d.settle(b)
	require.NoError(b, w.Close())
	bytes, _ := d.since(b)
	return float64(bytes) / 1e6
}

// disk is an ext4 file system on a loop device.
type disk struct {
	dir, device    string
	sectors, flush int64
}

func newDisk(t testing.TB) *disk {
	t.Helper()
	image := filepath.Join(t.TempDir(), "image")
	require.NoError(t, os.WriteFile(image, nil, 0o600)) // sparse; the tsdb sets half a gigabyte aside for a block
	require.NoError(t, os.Truncate(image, 4<<30))
	run := func(name string, args ...string) string {
		out, err := exec.Command(name, args...).CombinedOutput()
		if err != nil {
			t.Skipf("skipped: %s %v: %v: %s", name, args, err, out)
		}
		return strings.TrimSpace(string(out))
	}
	run("mkfs.ext4", "-q", "-F", "-E", "lazy_itable_init=0,lazy_journal_init=0", image)
	d := &disk{device: run("losetup", "--find", "--show", image), dir: t.TempDir()}
	t.Cleanup(func() { _ = exec.Command("losetup", "-d", d.device).Run() }) // the image goes anyway
	if err := syscall.Mount(d.device, d.dir, "ext4", syscall.MS_NOATIME, ""); err != nil {
		t.Skipf("skipped: cannot mount %s: %v", d.device, err)
	}
	// Detached, so that a test that failed with files open leaves no mount.
	t.Cleanup(func() { require.NoError(t, syscall.Unmount(d.dir, syscall.MNT_DETACH)) })
	return d
}

// settle writes out what is held back, and notes the counters.
func (d *disk) settle(t testing.TB) {
	t.Helper()
	syscall.Sync()
	d.sectors, d.flush = d.counters(t)
}

// since is what was written after settle, with all that is held back.
func (d *disk) since(t testing.TB) (bytes, flushes int64) {
	t.Helper()
	_, f := d.counters(t)
	syscall.Sync()
	s, _ := d.counters(t)
	return (s - d.sectors) * 512, f - d.flush
}

// counters reads the device's. Source: the kernel's
// Documentation/admin-guide/iostats.rst, fields 7 and 16.
func (d *disk) counters(t testing.TB) (sectors, flushes int64) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("/sys/block", filepath.Base(d.device), "stat"))
	require.NoError(t, err)
	fields := strings.Fields(string(text))
	sectors, err = strconv.ParseInt(fields[6], 10, 64)
	require.NoError(t, err)
	if len(fields) > 15 {
		flushes, err = strconv.ParseInt(fields[15], 10, 64)
		require.NoError(t, err)
	}
	return sectors, flushes
}
