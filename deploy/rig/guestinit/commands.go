//go:build linux && amd64

package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"headroom/deploy/rig/parts"
)

// do runs one command. The first word says of what:
//
//	i2c    plug | unplug | stick | release | count
//	adc    volts N V | sine N MEAN AMPLITUDE HZ | brownout N | move ADDRESS | config | slow FACTOR
//	wire   plug | unplug | find N | search on|off | temp I C | pull I | push I | crc I on|off | brownout I on|off
//	pin    pull NAME up|down | value NAME | pulses|steady|mean NAME COUNT [RATE [BURST]] | flood NAME COUNT | trace | traced NAME | plug | unplug
//	wheel  turn NAME RATE | stop            pulses in the background; stop says how many
//	child  start NAME ALIVE-SECONDS PROGRAM ARGS... | signal NAME KILL|STOP|CONT|TERM|USR1
//	dog    feed SECONDS | starve
//	       unsynced as start, for a program whose every sync does nothing
//	disk   mount | umount                   /dev/vda, ext4, at /data
//	guest  panic | dump | lag               dump: stacks of programs, and of what hangs in the kernel
//	read   FILE
//	fetch  PATH                             a page that a program serves at 127.0.0.1:8080
//	post   PATH FORM [TOKEN]                a form that it takes there
func (b *board) do(words []string) (string, error) {
	if len(words) < 2 {
		return "", fmt.Errorf("%q is no command", strings.Join(words, " "))
	}
	var reply string
	var err error
	switch words[0] {
	case "i2c":
		reply, err = b.doI2C(words)
	case "adc":
		reply, err = b.doConverter(words)
	case "wire":
		reply, err = b.doWire(words)
	case "pin":
		reply, err = b.doPin(words)
	case "wheel":
		reply, err = b.doWheel(words)
	case "child":
		reply, err = b.doChild(words)
	case "dog":
		reply, err = b.doDog(words)
	case "disk":
		err = doDisk(words[1])
	case "guest":
		reply, err = b.doGuest(words[1])
	case "read":
		return text(words[1]), nil
	case "fetch":
		reply, err = fetch(words[1])
	case "post":
		reply, err = doPost(words)
	default:
		err = errUnknown
	}
	if err != nil {
		return "", fmt.Errorf("%s: %w", strings.Join(words, " "), err)
	}
	return reply, nil
}

// doGuest asks the kernel for something drastic, or for a look into the guest.
func (b *board) doGuest(what string) (string, error) {
	switch what {
	case "panic":
		return "", put("/proc/sysrq-trigger", "c")
	case "dump":
		b.children.dump()
		return "", put("/proc/sysrq-trigger", "w")
	case "lag":
		return b.lag.worst(), nil
	}
	return "", errUnknown
}

func doPost(words []string) (string, error) {
	if len(words) < 3 {
		return "", errUnknown
	}
	token := ""
	if len(words) > 3 {
		token = words[3]
	}
	return post(words[1], words[2], token)
}

// doDisk mounts the disk, or lets go of it so that another can be put in.
func doDisk(what string) error {
	switch what {
	case "mount":
		return mount("/dev/vda", "/data", "ext4")
	case "umount":
		return unmount("/data", "/dev/vda")
	}
	return errUnknown
}

var errUnknown = fmt.Errorf("no such command")

func (b *board) doI2C(words []string) (string, error) {
	switch words[1] {
	case "plug":
		bus, err := b.i2c.plug()
		return fmt.Sprintf("bus %d", bus), err
	case "unplug":
		return "", b.i2c.unplug()
	case "stick":
		b.i2c.adapter.Stick()
	case "release":
		b.i2c.adapter.Release()
	case "count":
		return fmt.Sprint(b.i2c.adapter.Transfers()), nil
	default:
		return "", errUnknown
	}
	return "", nil
}

func (b *board) doConverter(words []string) (string, error) {
	var n [4]float64
	for i := range n {
		var err error
		if n[i], err = number(words, 2+i, 0); err != nil {
			return "", err
		}
	}
	switch words[1] {
	case "volts":
		b.converter.Set(int(n[0]), parts.Wave{Mean: n[1]})
	case "sine":
		b.converter.Set(int(n[0]), parts.Wave{Mean: n[1], Amplitude: n[2], Hz: n[3]})
	case "brownout":
		b.converter.BrownOut(int(n[0]))
	case "slow":
		b.converter.Slow(n[0])
	case "move":
		b.i2c.adapter.Place(b.address, nil)
		b.address = byte(n[0])
		b.i2c.adapter.Place(b.address, b.converter)
	case "config":
		config, started := b.converter.Config()
		return fmt.Sprintf("%#04x %d", config, started), nil
	default:
		return "", errUnknown
	}
	return "", nil
}

func (b *board) doWire(words []string) (string, error) {
	switch words[1] {
	case "plug":
		return b.plugWire()
	case "unplug":
		return "", b.wire.unplug()
	case "search":
		return "", searchWire(len(words) > 2 && words[2] == "on")
	}
	first, err := number(words, 2, 0)
	if err != nil {
		return "", err
	}
	i := int(first)
	on := len(words) > 3 && words[3] == "on"
	switch words[1] {
	case "find":
		return b.findSensors(i)
	case "temp":
		t, err := number(words, 3, 0)
		if err != nil {
			return "", err
		}
		return "", b.bridge.SetTemp(i, t)
	case "pull":
		return "", b.bridge.Pull(i, true)
	case "push":
		return "", b.bridge.Pull(i, false)
	case "crc":
		return "", b.bridge.BadCRC(i, on)
	case "brownout":
		return "", b.bridge.Brownout(i, on)
	}
	return "", errUnknown
}

func listSensors() []string {
	found, _ := filepath.Glob("/sys/bus/w1/devices/28-*")
	for i, f := range found {
		found[i] = filepath.Base(f)
	}
	return found
}

func (b *board) doPin(words []string) (string, error) {
	switch words[1] {
	case "trace":
		return "", traceOn()
	case "plug":
		return b.pins.chip, b.pins.plug()
	case "unplug":
		return "", b.pins.unplug()
	}
	if len(words) < 3 {
		return "", errUnknown
	}
	name := words[2]
	switch words[1] {
	case "pull":
		if len(words) < 4 {
			return "", errUnknown
		}
		return "", b.pins.pull(name, words[3])
	case "value":
		return b.pins.value(name)
	case "traced":
		events, err := traceRead(name)
		return strings.Join(events, "; "), err
	case "flood":
		return b.doFlood(words)
	case "pulses", "steady", "mean":
		return b.doPulses(words)
	}
	return "", errUnknown
}

func (b *board) doPulses(words []string) (string, error) {
	count, err := number(words, 3, 1)
	if err != nil {
		return "", err
	}
	rate, err := number(words, 4, 0)
	if err != nil {
		return "", err
	}
	burst, err := number(words, 5, 1)
	if err != nil {
		return "", err
	}
	took, err := b.pins.pulses(words[2], int(count), rate, max(1, int(burst)), pace(words[1]))
	return fmt.Sprintf("%.0f pulses in %.3f s, %.0f a second", count, took.Seconds(), count/took.Seconds()), err
}

func (b *board) doChild(words []string) (string, error) {
	switch {
	case (words[1] == "start" || words[1] == "unsynced") && len(words) > 4:
		alive, err := number(words, 3, 0)
		if err != nil {
			return "", err
		}
		program := words[4:]
		if words[1] == "unsynced" {
			program = append([]string{"/init", unsyncedWord}, program...)
		}
		return "", b.children.start(words[2], time.Duration(alive*float64(time.Second)), program)
	case words[1] == "signal" && len(words) == 4:
		return "", b.children.signal(words[2], words[3])
	}
	return "", errUnknown
}

func (b *board) doDog(words []string) (string, error) {
	switch words[1] {
	case "feed":
		s, err := number(words, 2, 4)
		if err != nil {
			return "", err
		}
		return b.dog.feed(int32(s))
	case "starve":
		b.dog.starve()
		return "", nil
	}
	return "", errUnknown
}
