//go:build linux

// Command guestinit is the first program of the machine that the install tests
// boot: it loads the kernel's modules, mounts the disk and hands over to the
// systemd on it. It owns nothing beyond that moment and refuses to guess: what
// fails is told on the console, and the machine stops.
package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"golang.org/x/sys/unix"
)

func main() {
	err := handOver()
	fmt.Println("guestinit:", err)
	_ = unix.Reboot(unix.LINUX_REBOOT_CMD_POWER_OFF)
}

// handOver returns only when it fails.
func handOver() error {
	for _, m := range []struct{ kind, at string }{{"devtmpfs", "/dev"}, {"proc", "/proc"}, {"sysfs", "/sys"}} {
		if err := unix.Mount(m.kind, m.at, m.kind, 0, ""); err != nil {
			return fmt.Errorf("cannot mount %s: %w", m.at, err)
		}
	}
	if err := loadModules("/modules"); err != nil {
		return err
	}
	const disk, root = "/dev/vda", "/root"
	if err := await(disk, 20*time.Second); err != nil {
		return err
	}
	if err := unix.Mount(disk, root, "ext4", 0, ""); err != nil {
		return fmt.Errorf("cannot mount the disk: %w", err)
	}
	return switchTo(root)
}

// loadModules loads them in the order of their names.
func loadModules(dir string) error {
	files, err := filepath.Glob(filepath.Join(dir, "*.ko"))
	if err != nil || len(files) == 0 {
		return fmt.Errorf("no modules in %s (%v)", dir, err)
	}
	slices.Sort(files)
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			return err
		}
		// One that serves hardware which this machine lacks may refuse; what is
		// really missing shows later.
		if err := unix.FinitModule(int(f.Fd()), "", 0); err != nil && err != unix.EEXIST {
			fmt.Printf("guestinit: %s: %v\n", filepath.Base(name), err)
		}
		_ = f.Close() // only read from
	}
	return nil
}

func await(path string, within time.Duration) error {
	for end := time.Now().Add(within); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if _, err := os.Stat(path); err == nil {
			return nil
		}
	}
	return fmt.Errorf("%s does not appear", path)
}

// switchTo makes root the root, as switch_root(8) does, and starts its init.
func switchTo(root string) error {
	for _, at := range []string{"/dev", "/proc", "/sys"} {
		if err := unix.Mount(at, root+at, "", unix.MS_MOVE, ""); err != nil {
			return fmt.Errorf("cannot move %s: %w", at, err)
		}
	}
	if err := unix.Chdir(root); err != nil {
		return err
	}
	if err := unix.Mount(".", "/", "", unix.MS_MOVE, ""); err != nil {
		return fmt.Errorf("cannot make the disk the root: %w", err)
	}
	if err := unix.Chroot("."); err != nil {
		return err
	}
	return unix.Exec("/sbin/init", []string{"/sbin/init"}, []string{"PATH=/usr/sbin:/usr/bin:/sbin:/bin"})
}
