package medium

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func linuxOnly(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("skipped: only Linux tells")
	}
}

func TestLooksAtTheFolderOrTheNearestAbove(t *testing.T) {
	linuxOnly(t)
	dir := t.TempDir()
	m, err := Look(dir)
	require.NoError(t, err)
	require.NotEmpty(t, m.Type)
	require.Positive(t, m.TotalBytes)
	require.LessOrEqual(t, m.FreeBytes, m.TotalBytes)
	require.False(t, m.ReadOnly)
	above, err := Look(filepath.Join(dir, "not", "made", "yet"))
	require.NoError(t, err)
	require.Equal(t, m.Type, above.Type)
	require.NoError(t, os.Symlink(dir, filepath.Join(dir, "link")))
	_, err = Look(filepath.Join(dir, "link", "x"))
	require.NoError(t, err)
	file := filepath.Join(dir, "file")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	_, err = Look(filepath.Join(file, "below"))
	require.ErrorContains(t, err, "cannot look at what")
}

func TestMemoryIsTold(t *testing.T) {
	linuxOnly(t)
	if _, err := os.Stat("/dev/shm"); err != nil {
		t.Skip("skipped: no /dev/shm here")
	}
	m, err := Look("/dev/shm/headroom-not-made")
	require.NoError(t, err)
	if m.Type != "tmpfs" {
		t.Skipf("skipped: /dev/shm is %s here", m.Type)
	}
	require.Equal(t, LosesIt, m.Keeps)
}

func TestWhatOutlivesThePower(t *testing.T) {
	types := map[string]string{"/media/root-rw/overlay": "tmpfs", "/disk/upper": "ext4", "/layer": "overlay"}
	typeOf := func(dir string) (string, error) {
		if kind, ok := types[dir]; ok {
			return kind, nil
		}
		return "", errors.New("not seen from here")
	}
	for _, c := range []struct {
		kind, upper string
		want        Keeps
	}{
		{"ext4", "", KeepsIt}, {"vfat", "", KeepsIt}, {"f2fs", "", KeepsIt}, {"", "", KeepsUnknown},
		{"tmpfs", "", LosesIt}, {"ramfs", "", LosesIt},
		{"overlay", "/media/root-rw/overlay", LosesIt}, {"overlay", "/disk/upper", KeepsIt},
		{"overlay", "", MayLoseIt}, {"overlay", "/elsewhere", MayLoseIt}, {"overlay", "/layer", MayLoseIt},
	} {
		require.Equal(t, c.want, keeps(c.kind, c.upper, typeOf), "%s %s", c.kind, c.upper)
	}
}

// The lines are written after the example in proc_pid_mountinfo(5).
const table = `22 1 0:20 / / rw,relatime - overlay overlayroot rw,lowerdir=/media/root-ro,upperdir=/media/root-rw/overlay,workdir=/w
23 22 179:2 / /media/root-ro ro,relatime shared:1 - ext4 /dev/mmcblk0p2 ro
24 22 0:21 / /media/root-rw rw,relatime master:1 propagate_from:2 - tmpfs tmpfs-root rw
25 22 179:3 / /var/lib/head\040room rw,noatime - ext4 /dev/mmcblk0p3 rw,commit=60
26 25 0:30 / /var/lib/head\040room/cache rw - tmpfs tmpfs rw
27 25 179:4 / /var/lib/head\040room/cache rw - vfat /dev/sda1 rw
half a line
`

func TestFindsTheMount(t *testing.T) {
	for _, c := range []struct{ path, point, kind, upper string }{
		{"/home/x", "/", "overlay", "/media/root-rw/overlay"},
		{"/var/lib/head room", "/var/lib/head room", "ext4", ""},
		{"/var/lib/head room/record", "/var/lib/head room", "ext4", ""},
		{"/var/lib/head roomy", "/", "overlay", "/media/root-rw/overlay"},
		{"/var/lib/head room/cache/a", "/var/lib/head room/cache", "vfat", ""},
	} {
		m, ok := mountOf(strings.NewReader(table), c.path)
		require.True(t, ok)
		require.Equal(t, mount{c.point, c.kind, c.upper}, m, c.path)
	}
	_, ok := mountOf(strings.NewReader("nonsense\n"), "/")
	require.False(t, ok)
}

func FuzzMounts(f *testing.F) {
	f.Add(table, "/var/lib")
	f.Fuzz(func(t *testing.T, table, path string) {
		if m, ok := mountOf(strings.NewReader(table), path); ok {
			require.True(t, holds(m.point, path))
		}
	})
}
