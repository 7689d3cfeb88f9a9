package rig

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Options describe one machine.
type Options struct {
	// Kernel is the folder of Prepare, Image the file of BuildImage.
	Kernel, Image string
	// Folder takes the machine's sockets; it must be short enough for a
	// socket's path (about 90 bytes).
	Folder string
	// Serial is served with the guest's ttyS1 when it isn't nil, or with its
	// ttyUSB0, behind an emulated USB adapter, when Dongle is set.
	Serial func(io.ReadWriter)
	Dongle bool
	// Disk is the path of a unix socket with an NBD server, for a virtio disk
	// at /dev/vda; empty for none.
	Disk string
	// Log gets every line from the guest, if not nil.
	Log func(string)
}

// Line is one line from the guest.
type Line struct {
	// Uptime is the guest's own clock.
	Uptime time.Duration
	// Kind is ready, ok, err, out, exit, note or END; see guestinit.
	Kind, Text string
}

// Machine is a running guest.
type Machine struct {
	options Options
	cmd     *exec.Cmd
	control net.Conn
	ready   Line
	lines   chan Line // what the guest says by itself
	replies chan Line // results of commands
	console safeBuffer
	exited  chan struct{}
	exitErr error
	closers []io.Closer
}

// Boot starts a machine and waits until its init is ready.
func Boot(o Options) (*Machine, error) {
	m := &Machine{options: o, lines: make(chan Line, 1<<16), replies: make(chan Line, 16), exited: make(chan struct{})}
	control, err := m.listen("control")
	if err != nil {
		return nil, err
	}
	args := m.arguments()
	if o.Serial != nil {
		serial, err := m.listen("serial")
		if err != nil {
			m.closeAll()
			return nil, err
		}
		go serveOne(serial, o.Serial)
	}
	m.cmd = exec.Command("qemu-system-x86_64", args...)
	m.cmd.Stdout, m.cmd.Stderr = &m.console, &m.console
	if err := m.cmd.Start(); err != nil {
		m.closeAll()
		return nil, fmt.Errorf("cannot start QEMU (Debian package qemu-system-x86): %w", err)
	}
	go func() { m.exitErr = m.cmd.Wait(); close(m.exited) }()
	if err := m.connect(control); err != nil {
		m.Kill()
		return nil, err
	}
	return m, nil
}

// arguments: an old processor type and no second one, since under emulation
// both only cost time; and no check of the timer's interrupt at boot, which a
// busy host answers too late, so that the kernel panics.
func (m *Machine) arguments() []string {
	o := m.options
	args := []string{
		"-nodefaults", "-no-user-config", "-display", "none", "-monitor", "none", "-no-reboot",
		"-machine", "q35", "-accel", "tcg", "-cpu", "qemu64", "-smp", "1", "-m", "256",
		"-kernel", filepath.Join(o.Kernel, "vmlinux"), "-initrd", o.Image,
		"-append", "console=ttyS0 quiet loglevel=4 panic=-1 mitigations=off tsc=reliable no_timer_check",
		"-serial", "stdio",
		"-device", "virtio-serial-pci",
		"-chardev", "socket,id=control,path=" + m.socket("control"),
		"-device", "virtserialport,chardev=control,name=rig",
		"-device", "i6300esb", "-action", "watchdog=reset",
	}
	switch {
	case o.Serial == nil:
	case o.Dongle:
		args = append(args, "-chardev", "socket,id=serial,path="+m.socket("serial"), "-device", "qemu-xhci", "-device", "usb-serial,chardev=serial")
	default:
		args = append(args, "-chardev", "socket,id=serial,path="+m.socket("serial"), "-device", "isa-serial,chardev=serial")
	}
	if o.Disk != "" {
		args = append(args, "-drive", "driver=nbd,server.type=unix,server.path="+o.Disk+",if=none,id=disk,cache.direct=on", "-device", "virtio-blk-pci,drive=disk")
	}
	return args
}

func (m *Machine) socket(name string) string { return filepath.Join(m.options.Folder, name+".sock") }

func (m *Machine) listen(name string) (net.Listener, error) {
	_ = os.Remove(m.socket(name))
	l, err := net.Listen("unix", m.socket(name))
	if err != nil {
		return nil, fmt.Errorf("cannot listen for the machine: %w", err)
	}
	m.closers = append(m.closers, l)
	return l, nil
}

func serveOne(l net.Listener, serve func(io.ReadWriter)) {
	c, err := l.Accept()
	if err != nil {
		return
	}
	defer c.Close()
	serve(c)
}

func (m *Machine) connect(l net.Listener) error {
	accepted := make(chan net.Conn, 1)
	go func() {
		if c, err := l.Accept(); err == nil {
			accepted <- c
		}
	}()
	select {
	case m.control = <-accepted:
	case <-m.exited:
		return fmt.Errorf("QEMU ended before it spoke: %v\n%s", m.exitErr, m.Console())
	case <-time.After(20 * time.Second):
		return errors.New("QEMU didn't open its control socket within 20 s")
	}
	m.closers = append(m.closers, m.control)
	go m.read()
	var err error
	m.ready, err = m.Wait(60*time.Second, "the guest's ready line", func(l Line) bool { return l.Kind == "ready" })
	return err
}

// Ready is the guest's first line: what it is, and when its init began.
func (m *Machine) Ready() Line { return m.ready }

func (m *Machine) read() {
	defer close(m.lines)
	defer close(m.replies)
	sc := bufio.NewScanner(m.control)
	sc.Buffer(nil, 1<<20)
	for sc.Scan() {
		l, ok := parseLine(sc.Text())
		if !ok {
			continue
		}
		if m.options.Log != nil {
			m.options.Log(sc.Text())
		}
		if l.Kind == "ok" || l.Kind == "err" {
			m.replies <- l
			continue
		}
		m.lines <- l
	}
}

func parseLine(s string) (Line, bool) {
	up, rest, _ := strings.Cut(s, " ")
	kind, text, _ := strings.Cut(rest, " ")
	seconds, err := strconv.ParseFloat(up, 64)
	if err != nil {
		return Line{}, false
	}
	return Line{time.Duration(seconds * float64(time.Second)), kind, text}, true
}

// Console returns what the kernel said on its console.
func (m *Machine) Console() string { return m.console.String() }

// Kill ends the machine at once, as a cut of its power does.
func (m *Machine) Kill() {
	if m.cmd.Process != nil {
		_ = m.cmd.Process.Kill()
		<-m.exited
	}
	m.closeAll()
}

func (m *Machine) closeAll() {
	for _, c := range m.closers {
		c.Close()
	}
	m.closers = nil
}

// safeBuffer is a buffer that may be read while a process fills it.
type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *safeBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *safeBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}
