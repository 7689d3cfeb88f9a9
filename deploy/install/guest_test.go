//go:build install

package install

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

// TestServiceUnderSystemd boots the bare Debian, with the package installed, in
// a machine, and holds what guest/check.sh saw there against what the service
// promises. The machine is emulated and slow: its times are no board's.
func TestServiceUnderSystemd(t *testing.T) {
	if !*long {
		t.Skip("only in the long form")
	}
	saw := look(t)
	require.Equal(t, "ok", saw["end"], "the machine came to the end: %v", saw)
	for name, want := range map[string]string{
		"type": "notify", "main": "headroom", "watchdog": "10s", "state": "headroom:headroom 750",
		"chip": "gpio 660", "etc": "untouched", "watchdog_result": "1",
		"upgrade": "0 " + newer, "new_process": "yes", "downgrade": "1 " + newer + " active", "reason": "1",
		"disabled_stays": "disabled", "purged": "0 0", "failed": "",
	} {
		require.Equal(t, want, saw[name], name)
	}
	for _, name := range []string{"active", "page", "watchdog_restart", "page_again", "kill_restart", "mended", "no_partition", "partition", "back", "upgraded"} {
		require.Contains(t, saw[name], "after", name)
	}
	require.Contains(t, saw["removed"], "0 ")
	require.NotContains(t, saw["removed"], " active")
	require.Equal(t, "1 1", saw["records"]+" "+saw["records_kept"])
	require.NotEmpty(t, saw["status"], "what it does stands in the service manager's list")
	require.NotContains(t, saw["broken"], "failed/failed", "it goes on trying")

	opened := saw["probe"]
	require.Contains(t, opened, "opens /dev/gpiochip0")
	require.Contains(t, opened, "opens /dev/ttyS0", "a serial port, as dialout")
	require.NotContains(t, opened, "opens /dev/vda", "the disk is no business of its")

	exposure, err := strconv.ParseFloat(regexp.MustCompile(`[0-9]+\.[0-9]+`).FindString(saw["exposure"]), 64)
	require.NoError(t, err, saw["exposure"])
	require.LessOrEqual(t, exposure, 2.0)
	took, err := strconv.ParseFloat(saw["watchdog_took"], 64)
	require.NoError(t, err)
	require.Greater(t, took, 5.0, "no sooner than the patience, less the last sign of life's age")
	t.Logf("started at %s s of the machine's time, ready at %s s; exposure %.1f; hung to watching again: %.0f s", saw["exec_seconds"], saw["ready_seconds"], exposure, took)
}

// look runs the machine and returns what it said, by name; lines of one name
// are joined.
func look(t *testing.T) map[string]string {
	t.Helper()
	qemu := testneed.Program(t, "qemu-system-x86", "qemu-system-x86_64")
	kernel, err := exec.Command("../rig/prepare.sh").Output()
	if err != nil {
		testneed.Missing(t, "needs a kernel, which deploy/rig/prepare.sh can't make")
	}
	dir := t.TempDir()
	kernelDir := strings.TrimSpace(string(kernel))
	said := filepath.Join(dir, "said")
	ctx, stop := context.WithTimeout(t.Context(), 20*time.Minute)
	defer stop()
	cmd := exec.CommandContext(ctx, qemu, "-nodefaults", "-no-user-config", "-display", "none", "-monitor", "none", "-no-reboot",
		"-machine", "q35", "-accel", "tcg", "-cpu", "qemu64", "-smp", "1", "-m", "512",
		"-kernel", filepath.Join(kernelDir, "vmlinux"), "-initrd", guestInitrd(t, dir, kernelDir),
		"-append", "console=ttyS0 quiet loglevel=4 panic=-1 mitigations=off tsc=reliable systemd.show_status=no",
		"-drive", "file="+guestDisk(t, dir)+",format=raw,if=none,id=disk,cache=unsafe", "-device", "virtio-blk-pci,drive=disk",
		"-serial", "stdio", "-serial", "file:"+said)
	console, err := cmd.CombinedOutput()
	text, readErr := os.ReadFile(said)
	require.NoError(t, readErr)
	t.Logf("the machine said:\n%s", text)
	require.NoError(t, err, "%s", console)
	if !strings.Contains(string(text), "end: ok") {
		t.Logf("its console:\n%s", console)
	}
	saw := map[string]string{}
	for l := range strings.Lines(string(text)) {
		name, value, found := strings.Cut(strings.TrimSpace(l), ": ")
		name = strings.TrimSuffix(name, ":")
		if !found {
			value = ""
		}
		if old, again := saw[name]; again {
			value = old + "\n" + value
		}
		saw[name] = value
	}
	return saw
}

// guestDisk is a disk with the bare Debian, the package and the check.
func guestDisk(t *testing.T, dir string) string {
	t.Helper()
	testneed.Program(t, "e2fsprogs", "mke2fs", "/sbin/mke2fs", "/usr/sbin/mke2fs")
	r := newRoot(t)
	r.do("dpkg", "-i", r.bring(built(t, older)))
	for from, to := range map[string]string{
		built(t, older): "older.deb", built(t, newer): "newer.deb", "guest/check.sh": "check.sh", "guest/check.service": "../etc/systemd/system/check.service",
	} {
		text, err := os.ReadFile(from)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(r.path("/root/"+to), text, 0o755))
	}
	r.do("systemctl", "enable", "check.service")
	disk := filepath.Join(dir, "disk")
	out, err := exec.Command("/sbin/mke2fs", "-q", "-t", "ext4", "-d", r.dir, disk, "1G").CombinedOutput()
	require.NoError(t, err, "%s", out)
	return disk
}

// guestInitrd is the machine's first file system: guestinit and the modules.
func guestInitrd(t *testing.T, dir, kernel string) string {
	t.Helper()
	testneed.Program(t, "cpio", "cpio")
	tree := filepath.Join(dir, "initrd")
	for _, d := range []string{"dev", "proc", "sys", "root"} {
		require.NoError(t, os.MkdirAll(filepath.Join(tree, d), 0o755))
	}
	build := exec.Command("go", "build", "-trimpath", "-o", filepath.Join(tree, "init"), "./guestinit")
	build.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux", "GOARCH=amd64")
	out, err := build.CombinedOutput()
	require.NoError(t, err, "%s", out)
	require.NoError(t, os.CopyFS(filepath.Join(tree, "modules"), os.DirFS(filepath.Join(kernel, "modules"))))
	image := filepath.Join(dir, "initrd.cpio")
	pack := exec.Command("sh", "-c", `cd "$0" && find . | cpio --quiet -o -H newc >"$1"`, tree, image)
	out, err = pack.CombinedOutput()
	require.NoError(t, err, "%s", out)
	return image
}
