//go:build linux && amd64

package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"time"
)

// children runs programs under test, relays their lines, and ends those that
// stop saying that they live, as a service manager does.
type children struct {
	host *host
	mu   sync.Mutex
	all  map[string]*child
}

type child struct {
	cmd    *exec.Cmd
	exited chan struct{}
}

// start runs a program. When alive isn't 0, the program gets NOTIFY_SOCKET and
// WATCHDOG_USEC (the open protocol of systemd's sd_notify), and is killed once
// it has sent WATCHDOG=1 and then failed to for that long.
func (c *children) start(name string, alive time.Duration, argv []string) error {
	if len(argv) == 0 {
		return fmt.Errorf("no program to start")
	}
	cmd := exec.Command(argv[0], argv[1:]...)
	cmd.Env = []string{"PATH=/", "HOME=/tmp", "TMPDIR=/tmp"}
	ch := &child{cmd: cmd, exited: make(chan struct{})}
	if alive > 0 {
		if err := c.watch(name, ch, alive); err != nil {
			return err
		}
	}
	read, write, err := os.Pipe()
	if err != nil {
		return fmt.Errorf("cannot make a pipe: %w", err)
	}
	cmd.Stdout, cmd.Stderr = write, write
	err = cmd.Start()
	write.Close()
	if err != nil {
		read.Close()
		close(ch.exited)
		return fmt.Errorf("cannot start %s: %w", argv[0], err)
	}
	c.mu.Lock()
	c.all[name] = ch
	c.mu.Unlock()
	go c.relay(name, ch, read)
	return nil
}

func (c *children) relay(name string, ch *child, out io.ReadCloser) {
	sc := bufio.NewScanner(out)
	for sc.Scan() {
		c.host.say("out", name+" "+sc.Text())
	}
	out.Close()
	err := ch.cmd.Wait()
	state := "exit status 0"
	if err != nil {
		state = err.Error()
	}
	c.host.say("exit", name+" "+state)
	close(ch.exited)
}

// watch listens for signs of life and kills the child when they stop.
func (c *children) watch(name string, ch *child, alive time.Duration) error {
	path := filepath.Join("/run", name+".notify")
	_ = os.Remove(path)
	l, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		return fmt.Errorf("cannot listen for signs of life: %w", err)
	}
	ch.cmd.Env = append(ch.cmd.Env, "NOTIFY_SOCKET="+path, fmt.Sprintf("WATCHDOG_USEC=%d", alive.Microseconds()))
	go func() {
		<-ch.exited
		l.Close()
	}()
	go func() {
		buffer := make([]byte, 4096)
		for armed := false; ; {
			if armed {
				_ = l.SetReadDeadline(time.Now().Add(alive))
			}
			n, err := l.Read(buffer)
			if errors.Is(err, net.ErrClosed) {
				return
			}
			if err != nil {
				c.host.say("note", fmt.Sprintf("%s gave no sign of life for %v: killed", name, alive))
				_ = ch.cmd.Process.Kill()
				return
			}
			if n > 0 {
				armed = true
			}
		}
	}()
	return nil
}

// signal sends a signal to a child. Killing also waits for its end.
func (c *children) signal(name, which string) error {
	signals := map[string]syscall.Signal{"KILL": syscall.SIGKILL, "STOP": syscall.SIGSTOP, "CONT": syscall.SIGCONT, "TERM": syscall.SIGTERM, "USR1": syscall.SIGUSR1}
	s, ok := signals[which]
	c.mu.Lock()
	ch := c.all[name]
	c.mu.Unlock()
	if !ok || ch == nil {
		return fmt.Errorf("no signal %q or no child %q", which, name)
	}
	if err := ch.cmd.Process.Signal(s); err != nil {
		return fmt.Errorf("cannot send %s to %s: %w", which, name, err)
	}
	if s != syscall.SIGKILL {
		return nil
	}
	select {
	case <-ch.exited:
		return nil
	case <-time.After(5 * time.Second):
		return fmt.Errorf("%s does not end after a kill: stuck in the kernel", name)
	}
}

// dump makes every program print the stacks of its goroutines, and end.
func (c *children) dump() {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, ch := range c.all {
		_ = ch.cmd.Process.Signal(syscall.SIGQUIT)
	}
}

func (c *children) killAll() {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, ch := range c.all {
		_ = ch.cmd.Process.Kill()
	}
	for _, ch := range c.all {
		select {
		case <-ch.exited:
		case <-time.After(2 * time.Second):
		}
	}
}
