package store

import (
	"database/sql"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/record"
	"headroom/daemon/store/seriestest"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// wearSeconds says for how long TestWear runs; it doesn't without.
const wearSeconds = "HEADROOM_WEAR"

// TestWear measures what reaches the medium: each way of recording writes the
// noisy series at real speed, synced each second, to an ext4 file system of
// its own on a loop device, whose counters are read. It needs root, losetup
// and mkfs.ext4:
//
//	HEADROOM_WEAR=120 go test -run TestWear -v ./daemon/store
func TestWear(t *testing.T) {
	seconds, err := strconv.Atoi(os.Getenv(wearSeconds))
	if err != nil || os.Geteuid() != 0 {
		t.Skipf("skipped: set %s to a number of seconds, as root", wearSeconds)
	}
	fs := seriestest.Pump(t, seconds*10)
	ways := []struct {
		name string
		open func(dir string) record.Log
	}{
		{"headroom, tail and database", func(dir string) record.Log {
			s, err := Open(dir, Options{Info: testInfo})
			require.NoError(t, err)
			return s
		}},
		{"SQLite, a row a frame, full", func(dir string) record.Log { return openRows(t, dir) }},
	}
	logs, disks := make([]record.Log, len(ways)), make([]*disk, len(ways))
	for i := range ways {
		disks[i] = newDisk(t)
		logs[i] = ways[i].open(disks[i].dir)
		disks[i].settle(t)
	}
	v := engine.Verdicts{Machine: machine.Running}
	pace := time.NewTicker(seriestest.Tick)
	defer pace.Stop()
	for i := range fs {
		<-pace.C
		at := time.Duration(i+1) * seriestest.Tick
		for _, l := range logs {
			require.NoError(t, l.Append(at, startWall.Add(at), &fs[i], &v))
			if i%10 == 9 {
				require.NoError(t, l.Sync())
			}
		}
	}
	oneSeal := sealBytes(t)
	out := fmt.Sprintf("\n  %d s at 10 frames a second, 8 channels, synced each second\n", seconds)
	for i := range ways {
		bytes, flushes := disks[i].since(t)
		out += fmt.Sprintf("  %-42s %7.1f MB/h  %5.2f flushes/s\n", ways[i].name,
			float64(bytes)/1e6*3600/float64(seconds), float64(flushes)/float64(seconds))
	}
	out += fmt.Sprintf("  and each hour two seals of half an hour's frames: %.1f MB/h\n", 2*float64(oneSeal)/1e6)
	for i := range ways {
		require.NoError(t, logs[i].Close())
	}
	t.Log(out)
}

// sealBytes is what one seal of half an hour writes, the log written ahead and
// its way into the database both.
func sealBytes(t *testing.T) int64 {
	d := newDisk(t)
	s, err := Open(d.dir, Options{Info: testInfo, SealFrames: maxSealFrames})
	require.NoError(t, err)
	v := engine.Verdicts{Machine: machine.Running}
	for i, f := range seriestest.Pump(t, defaultSealFrames) {
		at := time.Duration(i+1) * seriestest.Tick
		require.NoError(t, s.Append(at, startWall.Add(at), &f, &v))
		if i%1000 == 999 {
			require.NoError(t, s.Sync())
		}
	}
	d.settle(t)
	require.NoError(t, s.Close())
	bytes, _ := d.since(t)
	return bytes
}

// disk is an ext4 file system on a loop device.
type disk struct {
	dir, device    string
	sectors, flush int64
}

func newDisk(t *testing.T) *disk {
	t.Helper()
	image := filepath.Join(t.TempDir(), "image")
	require.NoError(t, os.WriteFile(image, nil, 0o600))
	require.NoError(t, os.Truncate(image, 256<<20))
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
	t.Cleanup(func() { require.NoError(t, syscall.Unmount(d.dir, 0)) })
	return d
}

// settle writes out what the opening left, and notes the counters.
func (d *disk) settle(t *testing.T) {
	t.Helper()
	syscall.Sync()
	d.sectors, d.flush = d.counters(t)
}

// since is what was written after settle, with all that the file system still
// holds back.
func (d *disk) since(t *testing.T) (bytes, flushes int64) {
	t.Helper()
	_, f := d.counters(t)
	syscall.Sync()
	s, _ := d.counters(t)
	return (s - d.sectors) * 512, f - d.flush
}

// counters reads the device's. Source: the kernel's
// Documentation/admin-guide/iostats.rst, fields 7 and 16.
func (d *disk) counters(t *testing.T) (sectors, flushes int64) {
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

// rowsLog is SQLite as one would use it first: rows in a table, a commit each
// second, made durable.
type rowsLog struct {
	t   *testing.T
	db  *sql.DB
	tx  *sql.Tx
	put string
}

func openRows(t *testing.T, dir string) *rowsLog {
	db, err := openDatabase(filepath.Join(dir, "rows.db"), false)
	require.NoError(t, err)
	_, err = db.Exec("CREATE TABLE f (t INTEGER PRIMARY KEY, wall INTEGER, a REAL, b REAL, c REAL, d REAL, e REAL, f REAL, g REAL, h REAL)")
	require.NoError(t, err)
	return &rowsLog{t: t, db: db, put: "INSERT INTO f VALUES (?" + strings.Repeat(", ?", 9) + ")"}
}

func (r *rowsLog) Append(at time.Duration, wall time.Time, raw *frame.Frame, _ *engine.Verdicts) (err error) {
	if r.tx == nil {
		if r.tx, err = r.db.Begin(); err != nil {
			return err
		}
	}
	args := []any{int64(at), wall.UnixNano()}
	for ch := range raw.Samples {
		if raw.Samples[ch].Status != frame.NotFitted {
			args = append(args, raw.Samples[ch].Value)
		}
	}
	_, err = r.tx.Exec(r.put, args...)
	return err
}

func (r *rowsLog) Sync() error {
	tx := r.tx
	r.tx = nil
	if tx == nil {
		return nil
	}
	return tx.Commit()
}

func (r *rowsLog) Close() error { return r.db.Close() }
