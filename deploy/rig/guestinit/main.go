//go:build linux && amd64

// Guestinit is process 1 of the rig's guest: it mounts, loads modules, builds
// a board out of models (an I2C converter, a 1-wire bus, pins), runs the
// program under test as a child and does what the host tells it, one command
// a line, over a virtio port. It holds no opinion: every verdict belongs to the
// test on the host. It refuses to do anything outside a guest.
//
// Lines to the host are "UPTIME KIND TEXT"; the kinds are ready, ok, err,
// out, exit, note and END. commands.go lists what can be said to it.
package main

import (
	"bufio"
	"fmt"
	"os"
	"strings"
	"syscall"
	"time"
)

func main() {
	if len(os.Args) > 2 && os.Args[1] == unsyncedWord {
		fmt.Println("guestinit:", unsynced(os.Args[2:]))
		os.Exit(1)
	}
	if os.Getpid() != 1 {
		fmt.Fprintln(os.Stderr, "guestinit is process 1 of a test guest and nothing else")
		os.Exit(2)
	}
	err := run()
	fmt.Println("guestinit:", err)
	powerOff()
}

// run brings the guest up and obeys until the host says end.
func run() error {
	if err := bringUp(); err != nil {
		return err
	}
	port, err := openPort("rig")
	if err != nil {
		return err
	}
	host := &host{out: port}
	b, err := newBoard(host)
	if err != nil {
		return err
	}
	host.say("ready", b.describe())
	return obey(port, host, b)
}

// obey runs commands in turn; their results go out as ok or err, in order.
func obey(port *os.File, h *host, b *board) error {
	sc := bufio.NewScanner(port)
	for sc.Scan() {
		words := strings.Fields(sc.Text())
		if len(words) == 0 {
			continue
		}
		if words[0] == "end" {
			b.children.killAll()
			h.say("END", fmt.Sprintf("%d lines", h.count()+1))
			time.Sleep(50 * time.Millisecond)
			return fmt.Errorf("the host ended the run")
		}
		reply, err := b.do(words)
		if err != nil {
			h.say("err", err.Error())
			continue
		}
		h.say("ok", reply)
	}
	return fmt.Errorf("the host's port closed: %w", sc.Err())
}

func powerOff() {
	syscall.Sync()
	if err := syscall.Reboot(syscall.LINUX_REBOOT_CMD_POWER_OFF); err != nil {
		fmt.Println("cannot power off:", err)
	}
	select {}
}
